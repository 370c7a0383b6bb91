// The error summary takes the focus, and its links put the cursor into the field they name.

function focusSummary(scope) {
  const summary = scope.querySelector("[data-error-summary]");
  if (summary) {
    summary.focus();
  }
}

function target(link) {
  return document.getElementById(decodeURIComponent(link.hash.slice(1)));
}

document.addEventListener("click", (event) => {
  const link = event.target.closest("[data-error-summary] a[href^='#']");
  const field = link && target(link);
  if (!field) {
    return;
  }
  event.preventDefault();
  (field.closest(".mb-3, .field, fieldset") ?? field).scrollIntoView({ block: "center" });
  field.focus({ preventScroll: true });
});

document.addEventListener("htmx:afterSettle", (event) => focusSummary(event.target));
focusSummary(document);
