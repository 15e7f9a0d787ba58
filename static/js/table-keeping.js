// Keeps the page itself for when there is no network, and says what this browser cannot do.

// The service worker keeps the page from its second opening on; the first one is kept here.
const keepPage = async () => {
  const cache = await caches.open(`at-the-table ${location.pathname}`);
  const files = [...document.querySelectorAll("link[href], script[src]")].map(
    (each) => new URL(each.href || each.src, location.href).pathname,
  );
  const page = await fetch(location.pathname, { redirect: "error" });
  if (page.ok) await cache.put(location.pathname, page);
  await Promise.all(
    [...new Set(files)].map(async (file) => {
      const answer = await fetch(file);
      if (answer.ok) await cache.put(file, answer);
    }),
  );
};

// Returns what to tell: nothing if the page opens without network from now on.
export const readyForNoNetwork = async () => {
  if (!window.isSecureContext || !navigator.serviceWorker || !window.caches)
    return "Keep this page open: without HTTPS it cannot open again without network.";
  try {
    await navigator.serviceWorker.register("/sw.js", { scope: location.pathname, updateViaCache: "none" });
    await keepPage();
  } catch {
    if (await (await caches.open(`at-the-table ${location.pathname}`)).match(location.pathname)) return "";
    return "This page is not kept yet: open it once with a good connection.";
  }
  // or the browser may clear what it keeps when the phone is full
  await navigator.storage?.persist?.();
  return "";
};

// A day that is over and sent needs no page any more.
export const forgetPage = async () => {
  if (!navigator.serviceWorker || !window.caches) return;
  for (const each of await navigator.serviceWorker.getRegistrations())
    if (new URL(each.scope).pathname === location.pathname) await each.unregister();
  await caches.delete(`at-the-table ${location.pathname}`);
};
