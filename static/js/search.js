// "/" goes to the search, unless something is being typed.
"use strict";

document.addEventListener("keydown", (event) => {
  if (event.key !== "/" || event.ctrlKey || event.metaKey || event.altKey) return;
  if (event.target.closest?.("input, select, textarea, [contenteditable]")) return;
  const box = document.getElementById("search-words") ?? document.getElementById("search-box");
  if (!box?.checkVisibility?.()) return;
  event.preventDefault();
  box.focus();
  box.select();
});
