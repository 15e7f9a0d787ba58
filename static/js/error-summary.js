// Moves the focus to the error summary, and from its links straight into the field.
"use strict";

document.addEventListener("DOMContentLoaded", () => {
  document.querySelector("[data-error-summary]")?.focus();
});

document.addEventListener("click", (event) => {
  const link = event.target.closest?.("[data-error-summary] a[href^='#']");
  if (!link) return;
  const place = document.getElementById(decodeURIComponent(link.hash.slice(1)));
  if (!place) return;
  const field = place.matches("input, select, textarea")
    ? place
    : place.querySelector("input, select, textarea");
  if (!field) return;
  event.preventDefault();
  for (let closed = field.closest("details:not([open])"); closed; ) {
    closed.open = true;
    closed = closed.parentElement.closest("details:not([open])");
  }
  const label = document.querySelector(`label[for="${CSS.escape(field.id)}"]`) ?? field;
  label.scrollIntoView({ block: "start" });
  field.focus({ preventScroll: true });
});
