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

// What an error page gives back was typed but never saved; a form marked "typed" comes back so too.
document.addEventListener("DOMContentLoaded", () => {
  const all = document.querySelector("[data-error-summary]") ? "" : "=typed";
  for (const form of document.querySelectorAll(`form[data-unsaved${all}]`)) changed.add(form);
});

window.addEventListener("beforeunload", (event) => {
  if ([...changed].some((form) => form.isConnected)) event.preventDefault();
});
