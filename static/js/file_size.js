// A file that is larger than its field takes is refused before it is sent, with the sentence that the page gives.
// The server refuses it as well; this saves a long upload with a broken connection at its end.

function judge(field) {
  const largest = Number(field.dataset.largestBytes);
  const isTooLarge = [...field.files].some((file) => file.size > largest);
  field.setCustomValidity(isTooLarge ? field.dataset.tooLarge : "");
  if (isTooLarge) {
    field.reportValidity();
  }
}

for (const field of document.querySelectorAll("input[type=file][data-largest-bytes]")) {
  field.addEventListener("change", () => judge(field));
}
