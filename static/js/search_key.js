// The desk's search: "/" puts the cursor into it from anywhere, the arrows walk the results, Enter opens the house.

const form = document.querySelector("[data-search]");
const field = form?.querySelector("[data-search-field]");
const results = form?.querySelector("[data-search-results]");

function isTyping(element) {
  return element.isContentEditable || /^(INPUT|TEXTAREA|SELECT)$/.test(element.tagName);
}

function links() {
  return [...results.querySelectorAll("a[href]")];
}

/** True when the results on the screen answer what stands in the field now, not what stood there before. */
function resultsAreCurrent() {
  const panel = results.querySelector("[data-query]");
  return panel !== null && panel.dataset.query === field.value.trim();
}

function close() {
  results.replaceChildren();
}

function move(step) {
  const all = links();
  const next = all.indexOf(document.activeElement) + step;
  if (next < 0) {
    field.focus();
  } else {
    all[Math.min(next, all.length - 1)]?.focus();
  }
}

if (form) {
  document.addEventListener("keydown", (event) => {
    const free = !event.ctrlKey && !event.metaKey && !event.altKey;
    if (event.key === "/" && free && !isTyping(event.target)) {
      event.preventDefault();
      field.focus();
      field.select();
    }
  });

  form.addEventListener("keydown", (event) => {
    if (event.key === "ArrowDown" || event.key === "ArrowUp") {
      if (links().length > 0) {
        event.preventDefault();
        move(event.key === "ArrowDown" ? 1 : -1);
      }
    } else if (event.key === "Escape") {
      close();
      field.focus();
    }
  });

  form.addEventListener("submit", (event) => {
    const first = resultsAreCurrent() ? links()[0] : undefined;
    if (first) {
      event.preventDefault();
      location.assign(first.href);
    }
  });

  document.addEventListener("click", (event) => {
    if (!form.contains(event.target)) {
      close();
    }
  });

  form.addEventListener("focusout", (event) => {
    if (event.relatedTarget && !form.contains(event.relatedTarget)) {
      close();
    }
  });

  // An answer that arrives after the cursor has left would cover the page that is being read.
  results.addEventListener("htmx:beforeSwap", (event) => {
    if (!form.contains(document.activeElement)) {
      event.preventDefault();
    }
  });
}
