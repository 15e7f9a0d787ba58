// The table at a fair: tap what is sold, tap how it is paid. Works without a connection.
import { basketOf, sumOf } from "./table-basket.js";
import { forgetPage, readyForNoNetwork } from "./table-keeping.js";
import { countOf, element, minorOf, saleText } from "./table-parts.js";
import { flush } from "./table-sending.js";
import { acts, find, money, notice, show, showBasket, showTiles, toast } from "./table-showing.js";
import { day, names, now, prices, undone, waiting, worked } from "./table-state.js";
import { addSale, allSales, newUuid, ownName, removeSales, salesOf } from "./table-store.js";

const KEPT_DAYS = 30;
const EACH_MS = 20000;
// another tab of this phone that shows the same day
const otherTabs = new BroadcastChannel("at-the-table");

const tap = (key, isKept) => {
  if (isKept) {
    toast(`${names[key]}: what is left is reserved for orders.`);
    return;
  }
  now.tapped = key;
  add(key, 1);
};

const add = (key, count) => {
  now.items[key] = (now.items[key] ?? 0) + count;
  if (now.items[key] <= 0) delete now.items[key];
  if (!countOf(now.items)) now.discount = 0;
  showTiles();
  showBasket();
};

const clear = () => {
  now.items = {};
  now.back = {};
  now.discount = 0;
  now.reason = "";
  now.tapped = "";
  find("note").value = "";
  find("paid-back").value = "";
  find("sellable").checked = true;
  find("more").open = false;
  document.querySelector("[data-discount-form]").reset();
  showTiles();
  showBasket();
};

const keep = async (sale, words) => {
  const isBasket = sale.kind !== "undo" && sale.kind !== "order";
  if (isBasket && !countOf(now.items) && !countOf(now.back)) return;
  const made = {
    uuid: newUuid(),
    at: Date.now(),
    way: "none",
    items: {},
    back: {},
    bundles: {},
    spoiled: false,
    amount: 0,
    discount: 0,
    reason: "",
    note: "",
    ...sale,
    day: day.send,
    page: day.page,
    state: "waiting",
  };
  // The basket is empty before it is written: a second tap finds nothing to sell, and what is tapped
  // meanwhile belongs to the next customer.
  const basket = { items: now.items, back: now.back, discount: now.discount, reason: now.reason };
  if (isBasket) clear();
  let stored = words;
  try {
    await addSale(made);
  } catch (error) {
    if (isBasket && !countOf(now.items) && !countOf(now.back)) Object.assign(now, basket);
    stored = `Not stored: this phone could not write it (${error?.name ?? "unknown"}). Write it on paper.`;
  }
  await show();
  toast(stored, made.kind === "undo" || stored !== words ? "" : made.uuid);
  otherTabs.postMessage("stored");
  send();
};

const noteTyped = () => find("note").value.trim();

const pay = (way) => {
  const { bundles, off, amount } = worked();
  const isSwap = countOf(now.back) > 0;
  return keep(
    {
      kind: isSwap ? "swap" : "sale",
      way,
      items: { ...now.items },
      back: { ...now.back },
      bundles,
      amount,
      discount: off,
      reason: off ? now.reason : "",
      note: noteTyped(),
      spoiled: isSwap && !find("sellable").checked,
    },
    way === "none" ? "Swap stored." : `${money(amount)} ${way} stored.`,
  );
};

const refund = (way) => {
  const full = sumOf(now.items, prices);
  const typed = find("paid-back").value.trim();
  const amount = typed ? minorOf(typed, day.digits) : full;
  if (!(amount <= full)) {
    toast(`Refund: enter at most ${money(full)}.`);
    return;
  }
  keep(
    {
      kind: "refund",
      way,
      back: { ...now.items },
      amount: -amount,
      note: noteTyped(),
      spoiled: !find("sellable").checked,
    },
    `Refund of ${money(amount)} stored.`,
  );
};

const swap = () => {
  now.back = now.items;
  now.items = {};
  now.tapped = "";
  find("more").open = false;
  showTiles();
  showBasket();
};

const handedOut = (kind) =>
  keep(
    { kind, items: { ...now.items }, note: noteTyped() },
    kind === "given" ? "Stored as given away." : "Stored as broken.",
  );

const soldOut = () =>
  keep(
    { kind: "sold_out", items: Object.fromEntries(Object.keys(now.items).map((key) => [key, 0])) },
    "Marked as sold out.",
  );

const undoing = new Set();
const undo = async (uuid) => {
  if (undone().has(uuid) || undoing.has(uuid)) return;
  undoing.add(uuid);
  const sale = now.sales.find((each) => each.uuid === uuid);
  await keep({ kind: "undo", of: uuid }, sale ? `Undone: ${saleText(sale, names)}.` : "Undone.");
  undoing.delete(uuid);
};

// -- sending

let isBusy = false;
let isAsked = false;
const send = async () => {
  if (isBusy) {
    isAsked = true;
    return;
  }
  isBusy = true;
  try {
    do {
      isAsked = false;
      now.sending = (await flush(day)).state;
      await show();
      otherTabs.postMessage("sent");
    } while (isAsked && now.sending === "sent");
  } finally {
    isBusy = false;
  }
  // opened since this page came: it has no prices of the day yet
  if (now.told.is_open && !day.is_open && now.sending === "sent") location.reload();
  if (!now.told.is_open && !waiting() && now.sending === "sent") await forgetPage();
};

document.addEventListener("submit", (event) => {
  const form = event.target;
  if (form.matches("[data-discount-form]")) {
    event.preventDefault();
    const off = minorOf(form.off.value, day.digits);
    const most = basketOf(now.items, prices, day.bundles).amount;
    const why = form.reason.value.trim();
    const wrong = form.querySelector("[data-wrong]");
    wrong.textContent = !(off > 0)
      ? "Enter an amount, like 1.50."
      : off > most
        ? `Enter at most ${money(most)}.`
        : !why
          ? "Enter a reason."
          : "";
    if (wrong.textContent) return;
    [now.discount, now.reason] = [off, why];
    find("more").open = false;
    showBasket();
  } else if (form.matches("[data-order-form]")) {
    event.preventDefault();
    const deposit = form.deposit.value.trim() ? minorOf(form.deposit.value, day.digits) : 0;
    const wrong = form.querySelector("[data-wrong]");
    wrong.textContent = Number.isNaN(deposit)
      ? "Enter an amount, like 20."
      : form.customer.value.trim() && form.note.value.trim()
        ? ""
        : "Enter who ordered what.";
    if (wrong.textContent) return;
    const way = deposit ? event.submitter.value : "none";
    const said = { customer: form.customer.value.trim(), note: form.note.value.trim() };
    const order = { kind: "order", way, amount: deposit, ...said, needed: form.needed.value };
    keep(order, "Order stored. It is in Enquiries.");
    form.reset();
    form.closest("details").open = false;
  }
});

Object.assign(acts, { tap, add, clear, pay, refund, swap, handedOut, soldOut, undo });

const start = async () => {
  try {
    now.phone = await ownName();
  } catch {
    // then each sale is a form of its own
    notice("store", "This browser keeps nothing. Use the form below, with a connection.");
    return;
  }
  find("plain").hidden = true;
  find("table").hidden = !day.is_open && !(await salesOf(day.send)).length;
  const old = Date.now() - KEPT_DAYS * 24 * 3600 * 1000;
  const done = (await allSales()).filter(
    (sale) => sale.state === "sent" && sale.at < old && sale.day !== day.send,
  );
  if (done.length) await removeSales(done.map((sale) => sale.number));
  await show();
  find("send-now").addEventListener("click", send);
  window.addEventListener("online", send);
  document.addEventListener("visibilitychange", () => {
    if (document.visibilityState === "visible") send();
  });
  otherTabs.addEventListener("message", show);
  setInterval(send, EACH_MS);
  await send();
  const cannot = await readyForNoNetwork();
  const help = element("a", { href: day.phone }, "See On your phone");
  notice("keeping", ...(cannot ? [`${cannot} `, help] : []));
  document.documentElement.dataset.ready = cannot ? "online" : "kept";
};

start();
