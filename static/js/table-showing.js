// Shows the table: total, items, basket, latest sales, and what needs looking at.
import { sumOf } from "./table-basket.js";
import { countOf, element, moneyOf, saleText, timeOf, wayText } from "./table-parts.js";
import { day, leftOf, names, now, prices, soldOutAt, totals, undone, waiting, worked } from "./table-state.js";
import { allSales, noteFor, salesOf } from "./table-store.js";

export const money = moneyOf(day);
export const find = (name) => document.querySelector(`[data-${name}]`);

// what the buttons do; set by the page
export const acts = {};

const LATEST = 30;
const QUICK = [1, 2, 3, 4, 5, 6];

const showTop = () => {
  const { cash, card, count, deposits } = totals();
  find("total").textContent = `${money(cash + card)}`;
  const waits = waiting();
  const words = [`${count} ${count === 1 ? "sale" : "sales"}: ${money(cash)} cash, ${money(card)} card.`];
  if (deposits) words.push(`${money(deposits)} deposits.`);
  if (waits) words.push(`${waits} waiting to be sent.`);
  else words.push("All sent.");
  if (now.sending === "offline") words.push("No connection: sales are kept on this phone.");
  if (now.sending === "later") words.push("The workshop does not answer: sales are kept on this phone.");
  find("state").textContent = words.join(" ");
  find("state").classList.toggle("is-waiting", waits > 0);
};

export const showTiles = () => {
  const list = find("tiles");
  const focused = list.contains(document.activeElement) ? document.activeElement.dataset.item : "";
  list.replaceChildren(
    ...day.items.map((item) => {
      const left = leftOf(item.key);
      const kept = now.told.reserved[item.key] ?? 0;
      const out = soldOutAt(item.key);
      const free = left === null ? null : left - (now.items[item.key] ?? 0);
      // what is promised to an order is not sold to somebody else
      const isKept = kept > 0 && free !== null && free <= 0;
      const words = out
        ? `sold out ${out}`
        : isKept
          ? `${kept} reserved for orders`
          : free === null
            ? ""
            : `${Math.max(free, 0)} left`;
      return element(
        "li",
        {},
        element(
          "button",
          {
            type: "button",
            data: { item: item.key },
            "aria-disabled": isKept ? "true" : false,
            on: { click: () => acts.tap(item.key, isKept) },
          },
          element("span", { class: "name" }, item.name),
          item.words ? element("span", { class: "soft" }, item.words) : "",
          element("span", { class: "price" }, money(item.price)),
          words ? element("span", { class: "soft" }, words) : "",
          now.items[item.key] ? element("span", { class: "count" }, `× ${now.items[item.key]}`) : "",
        ),
      );
    }),
  );
  if (focused) list.querySelector(`[data-item="${CSS.escape(focused)}"]`)?.focus();
};

const row = (text, amount, ...buttons) =>
  element("li", {}, element("span", {}, text), ...buttons, element("b", {}, money(amount)));

const button = (text, work, options = {}) =>
  element("button", { type: "button", on: { click: work }, ...options }, text);

export const showBasket = () => {
  const isEmpty = !countOf(now.items) && !countOf(now.back);
  find("panel").hidden = isEmpty;
  if (isEmpty) return;
  const { bundles, off, amount } = worked();
  const rows = [];
  for (const [key, count] of Object.entries(now.items))
    rows.push(
      row(
        `${count} × ${names[key]}`,
        count * prices[key],
        button("−", () => acts.add(key, -1), { class: "small", "aria-label": `One ${names[key]} less` }),
      ),
    );
  for (const [key, count] of Object.entries(now.back))
    rows.push(row(`Back: ${count} × ${names[key]}`, -count * prices[key]));
  for (const bundle of day.bundles)
    if (bundles[bundle.key]) {
      const count = bundles[bundle.key];
      const saved = (sumOf(bundle.items, prices) - Math.max(bundle.price, bundle.lowest)) * count;
      rows.push(row(`${bundle.name}${count > 1 ? ` × ${count}` : ""}`, -saved));
    }
  if (off) rows.push(row(`Discount: ${now.reason}`, -off));
  find("basket").replaceChildren(...rows);
  find("chips").replaceChildren(
    ...(now.tapped && now.tapped in now.items
      ? [
          element("span", { class: "chips-of" }, `How many ${names[now.tapped]}?`),
          ...QUICK.map((count) =>
            button(String(count), () => acts.add(now.tapped, count - now.items[now.tapped]), {
              "aria-pressed": now.items[now.tapped] === count ? "true" : "false",
              "aria-label": `${count} × ${names[now.tapped]}`,
            }),
          ),
        ]
      : []),
  );
  const verb = amount < 0 ? "Pay back" : "";
  const label = (way) => (verb ? `${verb} ${money(-amount)} ${way}` : `${way} ${money(amount)}`);
  const isSwap = countOf(now.back) > 0;
  if (isSwap && !countOf(now.items))
    find("pay").replaceChildren(
      element("span", {}, "Tap what the customer takes instead."),
      button("Clear basket", acts.clear, { class: "quiet" }),
    );
  else if (amount === 0 && isSwap)
    find("pay").replaceChildren(
      button("Store swap", () => acts.pay("none")),
      button("Clear basket", acts.clear, { class: "quiet" }),
    );
  else
    find("pay").replaceChildren(
      button(label("Cash"), () => acts.pay("cash"), { class: "cash" }),
      button(label("Card"), () => acts.pay("card"), { class: "card" }),
      button("Clear basket", acts.clear, { class: "quiet" }),
    );
  find("verbs").replaceChildren(
    ...(isSwap
      ? []
      : [
          button("Refund in cash", () => acts.refund("cash")),
          button("Refund by card", () => acts.refund("card")),
          button("Swap these items", acts.swap),
          button("Store as given away", () => acts.handedOut("given")),
          button("Store as broken", () => acts.handedOut("broken")),
          button("Mark as sold out", acts.soldOut),
        ]),
  );
};

const markOf = (sale, gone) =>
  gone.has(sale.uuid)
    ? "undone"
    : sale.state === "waiting"
      ? "waiting"
      : sale.state === "refused"
        ? `sent, not booked: ${sale.refusal}`
        : "sent";

const showLog = () => {
  const gone = undone();
  const shown = now.sales.filter((sale) => sale.kind !== "undo");
  find("log").replaceChildren(
    ...shown
      .slice(-LATEST)
      .reverse()
      .map((sale) =>
        element(
          "li",
          { class: sale.state === "refused" ? "is-refused" : "", data: { sale: sale.uuid } },
          element("span", {}, `${timeOf(sale.at)} ${saleText(sale, names)}`),
          sale.way === "none" ? "" : element("b", {}, `${money(sale.amount)} ${wayText(sale)}`),
          element("span", { class: "soft" }, markOf(sale, gone)),
          gone.has(sale.uuid)
            ? ""
            : button("Undo", () => acts.undo(sale.uuid), {
                class: "small",
                "aria-label": `Undo ${saleText(sale, names)}`,
              }),
        ),
      ),
  );
};

const notices = new Map();
export const notice = (name, ...inside) => {
  notices.get(name)?.remove();
  notices.delete(name);
  if (!inside.length) return;
  const made = element("p", { class: "notice" }, ...inside);
  notices.set(name, made);
  find("notices").append(made);
};

const showNotices = async () => {
  const isRefused = now.sales.some((sale) => sale.state === "refused" && !undone().has(sale.uuid));
  notice(
    "sign_in",
    ...(now.sending === "sign_in"
      ? [
          "You are signed out. Your sales are kept here. ",
          element("a", { href: `${day.sign_in}?next=${encodeURIComponent(location.pathname)}` }, "Sign in to send sales"),
        ]
      : []),
  );
  notice(
    "forbidden",
    ...(now.sending === "forbidden" || now.sending === "gone"
      ? ["This account may not store sales here. They stay on this phone. Sign in as somebody who may."]
      : []),
  );
  notice(
    "refused",
    ...(isRefused
      ? ["A sale was not booked as it was sent. ", element("a", { href: day.look }, "Look at these sales")]
      : []),
  );
  const others = (await allSales()).filter((sale) => sale.day !== day.send && sale.state === "waiting");
  notice(
    "others",
    ...(others.length
      ? [
          `${others.length} of another day wait. `,
          element("a", { href: others[0].page ?? others[0].day }, "Open that day"),
        ]
      : []),
  );
  notice("closed", ...(!now.told.is_open && waiting() ? ["What waits is still sent."] : []));
};

export const show = async () => {
  now.sales = await salesOf(day.send);
  now.told = (await noteFor(`state ${day.send}`)) ?? now.told;
  find("shut").hidden = now.told.is_open;
  showTop();
  showTiles();
  showBasket();
  showLog();
  await showNotices();
};

// What happened last, in a place of its own: nothing moves or is covered while she taps on.
export const toast = (text, uuid) => {
  const place = find("toast");
  place.replaceChildren(element("span", {}, text));
  if (uuid) place.append(button("Undo", () => acts.undo(uuid)));
};
