// Sends what waits, in order, one flush at a time over all tabs; the answer names what was stored.
import { keepNote, noteAnswers, ownName, salesOf } from "./table-store.js";

const AT_ONCE = 20;
const PATIENCE_MS = 20000;

// Web Locks hold over all tabs of this browser. Where the page came without HTTPS there are none,
// and the workshop stores each sale once anyway.
const alone = (work) =>
  navigator.locks ? navigator.locks.request("at-the-table-sending", work) : work();

const token = (name) =>
  document.cookie
    .split("; ")
    .find((each) => each.startsWith(`${name}=`))
    ?.slice(name.length + 1) ?? "";

// what only this browser is told; a reason is that of a discount
const OWN = ["number", "day", "page", "state", "refusal"];

// Returns {state, text}; no connection, or one that never answers, is a state like the others.
const ask = async (address, options) => {
  const stop = new AbortController();
  const timer = setTimeout(() => stop.abort(), PATIENCE_MS);
  try {
    const answer = await fetch(address, {
      ...options,
      redirect: "manual",
      credentials: "same-origin",
      cache: "no-store",
      signal: stop.signal,
    });
    return { state: stateOf(answer), text: answer.ok ? await answer.text() : "" };
  } catch {
    return { state: "offline", text: "" };
  } finally {
    clearTimeout(timer);
  }
};

const stateOf = (answer) => {
  // a sign-in, or a second step, is asked for
  if (answer.type === "opaqueredirect") return "sign_in";
  if (answer.ok) return "";
  if (answer.status === 403) return "forbidden";
  if (answer.status === 404) return "gone";
  return "later";
};

// A form's secret may have gone with its cookie: the page brings a new one, or asks to sign in.
const post = async (day, body) => {
  const send = () =>
    ask(day.send, {
      method: "POST",
      headers: { "Content-Type": "application/json", "X-CSRFToken": token(day.cookie) },
      body: JSON.stringify(body),
    });
  const answer = await send();
  if (answer.state !== "forbidden") return answer;
  const page = await ask(day.page, {});
  return page.state ? page : send();
};

const sendAll = async (day) => {
  for (;;) {
    const waiting = (await salesOf(day.send)).filter((sale) => sale.state === "waiting");
    const batch = waiting.slice(0, AT_ONCE);
    const sales = batch.map((sale) =>
      Object.fromEntries(Object.entries(sale).filter(([name]) => !OWN.includes(name))),
    );
    const answer = await post(day, { now: Date.now(), phone: await ownName(), sales });
    if (answer.state) return { state: answer.state };
    const told = JSON.parse(answer.text);
    const answers = new Map(
      told.answers
        .filter((each) => each.uuid)
        .map((each) => [
          each.uuid,
          { state: each.state === "refused" ? "refused" : "sent", refusal: each.reason ?? "" },
        ]),
    );
    // what the answer does not name goes on waiting
    const isNew = batch.some((sale) => answers.has(sale.uuid));
    await noteAnswers(answers);
    await keepNote(`state ${day.send}`, told.day);
    if (batch.length && !isNew) return { state: "later" };
    if (waiting.length <= AT_ONCE) return { state: "sent" };
  }
};

// Returns {state}: sent, offline, sign_in, forbidden, gone, later.
export const flush = (day) => alone(() => sendAll(day));
