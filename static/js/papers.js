// Sends a photo or PDF as soon as it is chosen, so that it can be read beside the entry.
"use strict";

for (const choice of document.querySelectorAll(".papers input[type=file]")) {
  const add = choice.closest(".papers").querySelector("[data-papers-add]");
  if (!add) continue;
  add.hidden = true;
  choice.addEventListener("change", () => {
    if (choice.files.length) choice.form.requestSubmit(add);
  });
}
