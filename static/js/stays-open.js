// What was opened or closed stays so when a part of the page is answered anew: details with an id.
"use strict";

const opened = new Map();

document.addEventListener("htmx:beforeSwap", (event) => {
  for (const details of event.detail.target.querySelectorAll("details[id]")) opened.set(details.id, details.open);
});

document.addEventListener("htmx:afterSwap", () => {
  for (const [id, open] of opened) {
    const details = document.getElementById(id);
    if (details) details.open = open;
  }
  opened.clear();
});
