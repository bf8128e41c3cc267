// What needs a script, and pages do without:
// an element with data-answer="PATH" within a form shows what the server answers to the form as it is filled in so far; parts
// of the answer with data-goes="ID" go to the elements of these ids;
// an element with data-fresh="PATH" shows the part of the page that the server has at PATH whenever data-watch says it changed;
// what the start line keeps on the device for being without a signal goes when somebody else, or nobody, is signed in; a page that
// does not know who is, as one of a failure or behind a link for anyone, has no data-me, and leaves it. Marks that are not sent
// yet stay (startkeep.js);
// what is folded and has the id that the address names is opened, where the browser does not do so itself;
// scripts that an element with data-later="PATH PATH..." names are read in this order once the page has come, so that over a weak signal
// it is not they that are waited for. The element goes when they have run.
(() => {
  "use strict";
  const wait = (ms, f) => { let t; return () => { clearTimeout(t); t = setTimeout(f, ms); }; };
  const put = async (element, answer) => {
    const text = await answer.text();
    if (!answer.ok && answer.status !== 422) return;
    element.innerHTML = text;
    for (const part of element.querySelectorAll("[data-goes]")) {
      const place = document.getElementById(part.dataset.goes);
      if (place) place.replaceChildren(...part.childNodes);
      part.remove();
    }
  };
  const mine = localStorage.getItem("start line of");
  const here = document.body.dataset.me;
  if (mine && here !== undefined && mine !== here) {
    localStorage.removeItem("start line of");
    if (self.caches) caches.keys().then((names) => names.forEach((name) => name.startsWith("start line") && caches.delete(name)));
    const opening = indexedDB.open("start line");
    opening.onsuccess = () => {
      const db = opening.result;
      if (db.objectStoreNames.contains("rides")) db.transaction("rides", "readwrite").objectStore("rides").clear();
      db.close();
    };
  }
  const unfold = () => {
    const named = location.hash && document.getElementById(location.hash.slice(1));
    const folds = [];
    for (let at = named && named.closest("details"); at; at = at.parentElement.closest("details")) if (!at.open) folds.push(at);
    for (const fold of folds) fold.open = true;
    if (folds.length) named.scrollIntoView();
  };
  unfold();
  addEventListener("hashchange", unfold);
  for (const element of document.querySelectorAll("[data-later]")) {
    const read = () => {
      for (const src of element.dataset.later.split(" ")) {
        const script = Object.assign(document.createElement("script"), { src, async: false });
        script.onload = script.onerror = () => { if (element.dataset.later.endsWith(src)) element.remove(); };
        document.head.append(script);
      }
    };
    if (document.readyState === "complete") read();
    else addEventListener("load", read);
  }
  for (const element of document.querySelectorAll("[data-answer]")) {
    const form = element.closest("form");
    let under;
    const ask = async () => {
      if (under) under.abort();
      under = new AbortController();
      try {
        await put(element, await fetch(element.dataset.answer, { method: "POST", body: new URLSearchParams([...new FormData(form)].filter(([, v]) => typeof v === "string")), signal: under.signal }));
        element.removeAttribute("data-old");
      } catch (e) {
        if (e.name !== "AbortError") element.setAttribute("data-old", "");
      }
    };
    const soon = wait(300, ask);
    form.addEventListener("input", soon);
    form.addEventListener("change", soon);
    if (!element.hasAttribute("data-answered")) ask();
  }
  for (const element of document.querySelectorAll("[data-watch]")) {
    const fresh = async () => {
      try { await put(element, await fetch(element.dataset.fresh)); } catch { /* the next change asks again */ }
    };
    new EventSource(element.dataset.watch).addEventListener("change", wait(200, fresh));
  }
})();
