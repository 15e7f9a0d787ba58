// Hides the fields that do not fit the chosen kind; without this file all are there.
"use strict";

document.addEventListener("DOMContentLoaded", () => {
  const kind = document.querySelector("select[name=kind]");
  const fields = document.querySelectorAll("[data-for-kind]");
  if (!kind) return;
  const show = () => {
    for (const field of fields)
      // what is wrong must stay to be seen
      field.hidden = field.dataset.forKind !== kind.value && !field.querySelector(".has-error");
  };
  kind.addEventListener("change", show);
  show();
});
