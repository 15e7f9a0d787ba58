// Steps a picture through its states of folding; without this file the finished one is seen.
"use strict";

(() => {
  let chosen = 100;

  const show = (block) => {
    const states = [...block.querySelectorAll("[data-percent]")];
    const away = (state) => Math.abs(Number(state.dataset.percent) - chosen);
    const nearest = states.reduce((best, state) => (away(state) < away(best) ? state : best));
    for (const state of states) {
      if (state === nearest) state.removeAttribute("display");
      else state.setAttribute("display", "none");
    }
    block.querySelector("output").textContent = `${chosen}%`;
  };

  // a new drawing stays folded as far as the one before it
  const begin = () => {
    for (const block of document.querySelectorAll("[data-folding]")) {
      block.querySelector(".folding-control").hidden = false;
      block.querySelector("input").value = chosen;
      show(block);
    }
  };

  document.addEventListener("input", (event) => {
    const block = event.target.closest("[data-folding]");
    if (!block) return;
    chosen = Number(event.target.value);
    show(block);
  });
  document.addEventListener("DOMContentLoaded", begin);
  document.addEventListener("htmx:afterSwap", begin);
})();
