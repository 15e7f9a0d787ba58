// Keeps one page, the table of one day, with its styles and scripts; served as /sw.js, and
// registered for the address of that page alone. Nothing else of the workshop is kept.
"use strict";

const PAGE = new URL(self.registration.scope).pathname;
const CACHE = `at-the-table ${PAGE}`;
const PATIENCE_MS = 2500;

const kept = async (address) =>
  (await caches.open(CACHE)).match(address, { ignoreVary: true, ignoreSearch: true });

const keep = async (address, answer) => (await caches.open(CACHE)).put(address, answer);

const patience = () => new Promise((resolve) => setTimeout(resolve, PATIENCE_MS));

// From the network while it answers, else as it was kept.
const answerFor = async (event, address, isGood, mayEnd) => {
  const asked = fetch(event.request).then(
    (answer) => {
      if (isGood(answer)) event.waitUntil(keep(address, answer.clone()));
      return answer;
    },
    () => undefined,
  );
  event.waitUntil(asked);
  const found = await kept(address);
  const answer = await (found ? Promise.race([asked, patience()]) : asked);
  if (answer && (isGood(answer) || mayEnd(answer) || !found)) return answer;
  return found ?? Response.error();
};

self.addEventListener("install", () => self.skipWaiting());
self.addEventListener("activate", (event) => event.waitUntil(self.clients.claim()));

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const address = new URL(request.url);
  if (request.method !== "GET" || address.origin !== self.location.origin) return;
  if (request.mode === "navigate" && address.pathname === PAGE) {
    // A sign-in that ran out leads nowhere without a connection to sign in by: the page asks for it.
    // Who may not see the table any more is told so.
    event.respondWith(
      answerFor(
        event,
        PAGE,
        (answer) => answer.status === 200 && !answer.redirected,
        (answer) => answer.status === 403 || answer.status === 404,
      ),
    );
  } else if (address.pathname.startsWith("/static/")) {
    event.respondWith(
      answerFor(
        event,
        address.pathname,
        (answer) => answer.status === 200,
        () => false,
      ),
    );
  }
});
