// What was sold at the table, kept in this browser until the workshop has it, and after.
// A sale counts as kept once the browser says that it is on the disk ("strict").

const open = () =>
  new Promise((resolve, reject) => {
    const asked = indexedDB.open("at-the-table", 1);
    asked.onupgradeneeded = () => {
      const sales = asked.result.createObjectStore("sales", { keyPath: "number", autoIncrement: true });
      sales.createIndex("uuid", "uuid", { unique: true });
      sales.createIndex("day", "day");
      asked.result.createObjectStore("notes");
    };
    asked.onsuccess = () => {
      // another tab with a newer page must not wait for this one
      asked.result.onversionchange = () => asked.result.close();
      resolve(asked.result);
    };
    asked.onerror = () => reject(asked.error);
  });

let opened;

const within = async (mode, stores, work) => {
  opened ??= open();
  let base;
  let transaction;
  try {
    base = await opened;
    transaction = base.transaction(stores, mode, { durability: "strict" });
  } catch {
    // the browser may close a database behind a page that slept
    opened = open();
    base = await opened;
    transaction = base.transaction(stores, mode, { durability: "strict" });
  }
  return new Promise((resolve, reject) => {
    const asked = work(transaction);
    transaction.oncomplete = () => resolve(asked?.result);
    transaction.onabort = () => reject(transaction.error);
    transaction.onerror = () => reject(transaction.error);
  });
};

export const addSale = (sale) =>
  within("readwrite", ["sales"], (it) => it.objectStore("sales").add(sale));

export const salesOf = (day) =>
  within("readonly", ["sales"], (it) => it.objectStore("sales").index("day").getAll(day));

export const allSales = () =>
  within("readonly", ["sales"], (it) => it.objectStore("sales").getAll());

// Writes what the workshop answered to each; a sale that another tab removed stays removed.
export const noteAnswers = (answers) =>
  within("readwrite", ["sales"], (it) => {
    const sales = it.objectStore("sales");
    for (const [uuid, answer] of answers) {
      const asked = sales.index("uuid").get(uuid);
      asked.onsuccess = () => {
        if (asked.result) sales.put({ ...asked.result, ...answer });
      };
    }
  });

export const removeSales = (numbers) =>
  within("readwrite", ["sales"], (it) => {
    for (const number of numbers) it.objectStore("sales").delete(number);
  });

export const noteFor = (key) =>
  within("readonly", ["notes"], (it) => it.objectStore("notes").get(key));

export const keepNote = (key, value) =>
  within("readwrite", ["notes"], (it) => it.objectStore("notes").put(value, key));

// `crypto.randomUUID` is missing where the page came without HTTPS
export const newUuid = () => {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  bytes[6] = (bytes[6] & 0x0f) | 0x40;
  bytes[8] = (bytes[8] & 0x3f) | 0x80;
  const hex = [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
  return [8, 12, 16, 20].reduceRight((text, at) => `${text.slice(0, at)}-${text.slice(at)}`, hex);
};

// A name for this phone, so that what others at the table sold can be told apart.
export const ownName = async () => {
  const kept = await noteFor("phone");
  if (kept) return kept;
  const made = `phone ${newUuid().slice(0, 4).toUpperCase()}`;
  await keepNote("phone", made);
  return made;
};
