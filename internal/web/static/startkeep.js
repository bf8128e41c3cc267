// What a phone keeps of the start line, in IndexedDB "start line": "rides", how rides stood when last read; "unsent", what was
// marked and is not sent yet, in order; "aside", what the server refused, with its words. Rides go when somebody else is signed
// in (live.js); what is unsent or refused stays until it is sent, or its member has seen it.
const startKeep = (() => {
  "use strict";
  let opening;
  const open = () => opening ||= new Promise((done, failed) => {
    const asked = indexedDB.open("start line", 2);
    asked.onupgradeneeded = () => {
      const db = asked.result, has = db.objectStoreNames;
      if (!has.contains("rides")) db.createObjectStore("rides", { keyPath: "ride" });
      for (const name of ["unsent", "aside"]) if (!has.contains(name)) db.createObjectStore(name, { keyPath: "seq", autoIncrement: true });
    };
    asked.onsuccess = () => {
      asked.result.onversionchange = () => asked.result.close();
      done(asked.result);
    };
    asked.onerror = () => failed(asked.error);
  });
  // change does its work in one transaction, which is on the disk when the promise is fulfilled.
  const change = async (stores, work) => {
    const db = await open();
    return new Promise((done, failed) => {
      const tx = db.transaction(stores, "readwrite", { durability: "strict" });
      const result = work((name) => tx.objectStore(name));
      tx.oncomplete = () => done(result);
      tx.onabort = tx.onerror = () => failed(tx.error);
    });
  };
  const read = async (store, ask) => {
    const db = await open();
    return new Promise((done, failed) => {
      const asked = ask(db.transaction(store).objectStore(store));
      asked.onsuccess = () => done(asked.result);
      asked.onerror = () => failed(asked.error);
    });
  };
  // edit changes the record of a ride, where there is one, in a transaction that has it.
  const edit = (store, ride, how) => {
    const asked = store.get(ride);
    asked.onsuccess = () => asked.result && store.put(how(asked.result));
  };
  const merged = (marks, fresh) => {
    const have = new Set(fresh.map((m) => m.id));
    return [...marks.filter((m) => !have.has(m.id)), ...fresh];
  };
  return {
    ride: (ride) => read("rides", (s) => s.get(ride)),
    // stood keeps how a ride stands; marks that were sent meanwhile stay in it.
    stood: (fresh) => change(["rides"], (s) => {
      const asked = s("rides").get(fresh.ride);
      asked.onsuccess = () => {
        const old = asked.result && asked.result.me === fresh.me ? asked.result : { marks: [], told: [] };
        fresh.marks = fresh.whole ? fresh.marks : merged(old.marks, fresh.marks);
        fresh.told = old.told;
        s("rides").put(fresh);
      };
      return fresh;
    }),
    rides: () => read("rides", (s) => s.getAll()),
    forget: (ride) => change(["rides"], (s) => { s("rides").delete(ride); }),
    add: (entries) => change(["unsent"], (s) => { for (const entry of entries) s("unsent").add(entry); }),
    unsent: () => read("unsent", (s) => s.getAll()),
    aside: () => read("aside", (s) => s.getAll()),
    // sent takes what the server has from what is not sent, and into how the ride stands.
    sent: (entries, marks, told) => change(["unsent", "rides"], (s) => {
      for (const entry of entries) s("unsent").delete(entry.seq);
      edit(s("rides"), entries[0].ride, (r) => ({ ...r, marks: merged(r.marks, marks), told: told ? [...r.told, told] : r.told }));
    }),
    // refused puts something aside with the server's words.
    refused: (entry, reason, why) => change(["unsent", "aside"], (s) => {
      s("unsent").delete(entry.seq);
      const { seq, ...rest } = entry;
      s("aside").add({ ...rest, reason, why });
    }),
    seen: (seq) => change(["aside"], (s) => { s("aside").delete(seq); }),
    // again takes something that was refused back among what is not sent, as it is to be sent now.
    again: (entry, as) => change(["unsent", "aside"], (s) => {
      s("aside").delete(entry.seq);
      const { seq, reason, why, ...rest } = entry;
      s("unsent").add({ ...rest, ...as });
    }),
    untold: (ride, at) => change(["rides"], (s) => edit(s("rides"), ride, (r) => ({ ...r, told: r.told.filter((t) => t.at !== at) }))),
  };
})();
