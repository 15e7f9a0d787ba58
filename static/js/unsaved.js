// Asks before a form marked data-unsaved is left with changes in it.
"use strict";

const changed = new Set();

const noteChange = (event) => {
  const form = event.target.closest?.("form[data-unsaved]");
  if (form) changed.add(form);
};

document.addEventListener("input", noteChange);
document.addEventListener("rows:changed", noteChange);

document.addEventListener("submit", (event) => {
  if (!event.defaultPrevented) changed.delete(event.target);
});

// What an error page gives back was typed but never saved.
document.addEventListener("DOMContentLoaded", () => {
  if (!document.querySelector("[data-error-summary]")) return;
  for (const form of document.querySelectorAll("form[data-unsaved]")) changed.add(form);
});

window.addEventListener("beforeunload", (event) => {
  if ([...changed].some((form) => form.isConnected)) event.preventDefault();
});
