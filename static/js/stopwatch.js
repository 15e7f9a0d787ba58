// Lets the watches of the page go on from where the server's clock had them.
// The page's own clock only measures what passed since it was loaded, so a wrong one does no harm.
"use strict";

document.addEventListener("DOMContentLoaded", () => {
  let loadedAt = Date.now();
  const two = (number) => String(number).padStart(2, "0");
  const written = (seconds) => {
    const hours = Math.floor(seconds / 3600);
    const minutes = Math.floor(seconds / 60) % 60;
    return hours
      ? `${hours}:${two(minutes)}:${two(seconds % 60)}`
      : `${minutes}:${two(seconds % 60)}`;
  };

  const show = () => {
    const passed = Math.max(Math.floor((Date.now() - loadedAt) / 1000), 0);
    for (const watch of document.querySelectorAll("[data-stopwatch][data-runs]")) {
      const text = written(Number(watch.dataset.stopwatch) + passed);
      if (watch.textContent !== text) watch.textContent = text;
    }
  };

  // Another tab or person may have stopped a watch while the phone slept. Without a connection
  // the page stays as it is.
  const refresh = async () => {
    const watches = document.querySelector("[data-watches]");
    if (!watches || watches.querySelector("form[data-sending]")) return;
    try {
      const answer = await fetch(location.href, { headers: { Accept: "text/html" } });
      if (!answer.ok || answer.redirected) return;
      const page = new DOMParser().parseFromString(await answer.text(), "text/html");
      const fresh = page.querySelector("[data-watches]");
      // not under her finger
      if (!fresh || watches.contains(document.activeElement)) return;
      watches.replaceChildren(...fresh.childNodes);
      loadedAt = Date.now();
      show();
    } catch {
      show();
    }
  };

  document.addEventListener("visibilitychange", () => {
    if (document.visibilityState !== "visible") return;
    show();
    refresh();
  });
  window.addEventListener("pageshow", (event) => {
    if (event.persisted) refresh();
  });
  setInterval(show, 250);
  show();
});
