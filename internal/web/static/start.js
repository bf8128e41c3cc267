// The page of the start line, with a script: what is tapped is kept on the phone at once, shown at once, and sent when there is
// a signal. What it shows is what the server told last and what the phone has not sent yet, by the server's own rule (startfold.js).
// Once the ride is called off nothing is marked any more: what is still on the phone is sent, and shown with what became of it.
(() => {
  "use strict";
  const line = document.getElementById("line"), panel = document.getElementById("panel"), all = document.getElementById("all");
  if (!line || !self.indexedDB) return;
  const off = !panel; // the ride is called off
  const at = line.dataset.at, ride = at.slice(1, -"/start".length), me = document.body.dataset.me;
  const words = JSON.parse(line.dataset.words);
  const find = (selector, inside = document) => inside.querySelector(selector);
  const element = (tag, set, ...inside) => {
    const made = Object.assign(document.createElement(tag), set);
    made.append(...inside);
    return made;
  };
  const newID = () => Array.from(crypto.getRandomValues(new Uint8Array(16)), (b) => (b % 36).toString(36)).join("");
  const counted = (n, one, many) => n + " " + (n === 1 ? one : many);
  let kept, unsent = [], aside = [], call; // how the ride stood when last read, what is not sent, what was refused, how it stands
  let signal = true, session = "", flash; // session: why nothing can be sent, though there is a signal

  // ---- how it stands ----
  const ahead = () => kept ? kept.ahead : 0;
  const now = () => Date.now() * 1000 - ahead();
  const ours = (entry) => entry.ride === ride && entry.me === me;
  const asMark = (e) => e.kind === "look"
    ? { id: "look-" + e.id, m: e.form.m, w: "LOOKED_OVER", t: e.at * 1000 - ahead(), d: kept.device, unsent: true }
    : { ...e.mark, t: e.at * 1000 - ahead(), d: kept.device, unsent: true };
  const marks = () => {
    const have = new Set(kept.marks.map((m) => m.id));
    return [...kept.marks, ...unsent.filter(ours).map(asMark).filter((m) => !have.has(m.id))];
  };
  const time = (t) => startFold.time(kept.basis.zone, t);
  const nameOf = (m) => [...kept.basis.riders, ...kept.basis.others].find((r) => r.m === m)?.n || m;

  // ---- what the page shows ----
  const row = (roll) => {
    const made = element("li", { id: "r-" + roll.m });
    made.dataset.m = roll.m;
    made.append(element("a", { href: at + "/riders/" + roll.m }, element("b", { textContent: roll.name }), element("span", { className: "where" })));
    return made;
  };
  const put = (node, text) => { if (node && node.textContent !== text) node.textContent = text; };
  const showRider = (roll, off, standing) => {
    const li = document.getElementById("r-" + roll.m) || row(roll);
    li.dataset.s = roll.state;
    li.className = roll.overdue ? "late" : "";
    put(find(".where", li), (roll.overdue ? "OVERDUE: " : "") + words.states[roll.state] + (roll.last ? " " + time(roll.last.t) : "") + (roll.last?.unsent ? ", not sent" : ""));
    const stand = find(".stand", li);
    if (stand && standing && words.standings[standing]) {
      put(stand, words.standings[standing]);
      stand.className = "stand s-" + words.standings[standing].slice(2);
    }
    const what = startFold.nextMark(roll.state, off);
    let button = find("button", li);
    if (!what && button) button.remove();
    if (what && !button) li.append(button = element("button", { name: "one" }));
    if (what) {
      button.value = what + " " + roll.m;
      put(button, words.buttons[what]);
      button.setAttribute("aria-label", words.buttons[what] + ": " + roll.name);
    }
    return li;
  };
  const section = (group) => {
    let made = find(`.grp[data-g="${CSS.escape(group)}"]`);
    if (!made) {
      made = element("section", { className: "grp" }, element("h2", { textContent: group || "In no group" }), element("form", { className: "riders", action: at + "/mark" }, element("ul", { className: "rl" })));
      made.dataset.g = group;
      line.append(made);
    }
    return made;
  };
  const showGroup = (group) => {
    const made = section(group.g), list = find(".rl", made), known = new Map(kept.basis.riders.map((r) => [r.m, r]));
    const place = (r) => known.get(r.m)?.g === group.g && known.get(r.m).o || 1e6;
    const riders = call.riders.filter((r) => r.group === group.g).sort((a, b) => place(a) - place(b) || (a.name < b.name ? -1 : 1));
    const rows = riders.map((r) => showRider(r, group.off !== undefined, known.get(r.m)?.g === group.g ? known.get(r.m).st : ""));
    if (rows.length !== list.children.length || rows.some((li, i) => list.children[i] !== li)) {
      const held = document.activeElement;
      list.replaceChildren(...rows);
      if (list.contains(held)) held.focus();
    }
    put(find(".count", made), counted(riders.length, "rider", "riders"));
    const where = riders.find((r) => r.planned)?.planned;
    put(find(".now", made), where ? " · now: " + where : "");
  };
  const showTotals = () => {
    const sum = (...keys) => call.groups.reduce((n, g) => n + keys.reduce((k, key) => k + g[key], 0), 0);
    const totals = { NotSeen: sum("not_seen"), SignedOn: sum("signed_on"), Out: sum("out"), TurnedBack: sum("turned_back"), Home: sum("home", "handed_over"), Overdue: sum("overdue") };
    for (const [key, n] of Object.entries(totals)) {
      const cell = find(`[data-t=${key}]`);
      put(cell, String(n));
      cell.parentElement.classList.toggle("loud", key === "Overdue" && n > 0);
    }
    const late = document.getElementById("overdue"), titles = new Map(kept.basis.plans.map((p) => [p.g, p.t]));
    late.hidden = !totals.Overdue;
    find("ul", late).replaceChildren(...call.riders.filter((r) => r.overdue).map((r) => element("li", {}, element("b", { textContent: r.name }),
      `, ${titles.get(r.group) || "in no group"}: ${words.states[r.state]}${r.last ? ", last mark " + time(r.last.t) : ""}${r.planned ? ". The group by its plan: " + r.planned : ""}`)));
    const doubts = document.getElementById("doubts"), said = [...call.riders.flatMap((r) => r.doubts.map((d) => r.name + ": " + d + ".")), ...call.doubts.map((d) => d + ".")];
    doubts.hidden = !said.length;
    put(find("summary", doubts), said.length + " to look into");
    find("ul", doubts).replaceChildren(...said.map((textContent) => element("li", { textContent })));
  };
  const entryWords = (e) => (e.ride === ride ? "" : e.ride.split("/")[3] + ": ") + (e.kind === "look" ? `${nameOf(e.form.m)}, bike looked over ${time(e.at * 1000 - ahead())}` : `${nameOf(e.mark.m)}, ${words.marks[e.mark.w].toLowerCase()} ${time(e.at * 1000 - ahead())}`);
  const showKept = () => {
    const bar = document.getElementById("bar"), mine = unsent.filter((e) => e.me === me), others = unsent.length - mine.length;
    const n = mine.filter((e) => e.kind === "mark").length, looks = mine.length - n;
    const what = [n && counted(n, "mark", "marks"), looks && counted(looks, "look-over", "look-overs")].filter(Boolean).join(" and ");
    const said = [signal ? "" : "No signal.", "As of " + startFold.clock(kept.basis.zone, kept.now, now()) + (what ? `, ${what} on this phone not sent.` : ". Everything is sent.")];
    if (session === "out") said.push(`You are signed out: ${what || "what you mark"} stays on this phone until ${kept.name} is signed in on it again.`);
    if (session === "other") said.push("Somebody else is signed in on this phone now.");
    if (session === "denied") said.push("You may not record them now; ask who leads the ride.");
    bar.hidden = off && !mine.length && !session;
    bar.classList.toggle("unsent", mine.length > 0 || !signal || session !== "");
    put(find("#kept"), said.filter(Boolean).join(" "));
    put(find("#flash"), flash ? flash.words : "");
    find("#undo").hidden = !flash?.undo;
    find("#send").hidden = !mine.length;
    bar.classList.toggle("two", Boolean(flash?.undo && mine.length));
    document.body.classList.toggle("nosignal", !signal);
    const phone = mine.map((e) => entryWords(e) + ", not sent");
    if (others) phone.push(`${counted(others, "mark", "marks")} of another member on this phone not sent: they go when that member is signed in here again.`);
    if (ahead()) phone.push(`This phone’s clock is ${startFold.span(Math.abs(ahead()) / 6e7)} ${ahead() < 0 ? "slow" : "fast"}; the times are put right.`);
    const section = document.getElementById("phone");
    section.hidden = !phone.length;
    find("ul", section).replaceChildren(...phone.map((textContent) => element("li", { textContent })));
  };
  const showSaid = () => {
    const press = (textContent, onclick) => element("button", { type: "button", className: "quiet", textContent, onclick });
    const told = aside.filter((e) => e.me === me).map((e) => element("p", {}, element("strong", { textContent: "Refused: " + entryWords(e) + ". " }), e.why + " ", element("br"),
      ...(e.reason === "HOME_TOO_SOON" ? [press("It is so: mark it", () => done(startKeep.again(e, { early: true })))] : []), press("I have seen it", () => done(startKeep.seen(e.seq)))));
    for (const t of kept.told) {
      told.push(element("p", {}, element("strong", { textContent: nameOf(t.m) + ", looked over. " }), [...t.groups, ...t.do].join(". ") + ". ",
        t.anew ? "The riders should be placed anew. " : "", element("br"), press("I have seen it", () => done(startKeep.untold(ride, t.at)))));
    }
    const said = document.getElementById("said");
    if (said.textContent !== told.map((p) => p.textContent).join("")) said.replaceChildren(...told);
  };
  const showCall = () => {
    call = startFold.call(kept.basis, marks(), now());
    call.groups.forEach(showGroup);
    for (const made of line.querySelectorAll(".grp")) {
      if (!call.groups.some((g) => g.g === made.dataset.g)) find(".rl", made).replaceChildren();
    }
    showTotals();
  };
  const show = async () => {
    [kept, unsent, aside] = [await startKeep.ride(ride), await startKeep.unsent(), await startKeep.aside()];
    if (!kept || kept.me !== me) return;
    if (!off) showCall();
    showKept();
    showSaid();
    if (panel?.open) fillPanel(panel.dataset.m);
  };
  const say = (text, undo) => {
    flash = { words: text, undo };
    showKept();
  };
  const windows = new BroadcastChannel("start line");
  windows.onmessage = show;
  // done shows, here and in other windows, what was just kept, and sends it.
  const done = async (work) => {
    await work;
    await show();
    windows.postMessage("");
    sync();
  };

  // ---- marking ----
  const keep = (entries) => done(startKeep.add(entries.map((e) => ({ ...e, ride, me, at: Date.now() }))));
  const markAll = (what, members, more = {}) => {
    const entries = members.map((m) => ({ kind: "mark", mark: { id: newID(), m, w: what, at: Date.now(), n: "", g: "", s: "", ...more } }));
    const who = members.length === 1 ? nameOf(members[0]) : counted(members.length, "rider", "riders");
    flash = { words: `${who}: ${words.marks[what].toLowerCase()} ${time(now())}.`, undo: what === "STRIKE" ? undefined : entries.map((e) => e.mark) };
    return keep(entries);
  };
  const strike = (struck) => {
    flash = { words: `Taken back: ${struck.length === 1 ? nameOf(struck[0].m) : counted(struck.length, "rider", "riders")}, ${words.marks[struck[0].w].toLowerCase()}.` };
    return keep(struck.map((m) => ({ kind: "mark", mark: { id: newID(), m: m.m, w: "STRIKE", at: Date.now(), n: "", g: "", s: m.id } })));
  };
  const wrong = (field, text) => {
    field.setCustomValidity(text);
    field.reportValidity();
    addEventListener("input", () => field.setCustomValidity(""), { once: true });
  };
  const takeMark = (form, button) => {
    const data = new FormData(form), [what, one] = button.name === "one" ? button.value.split(" ") : [button.value];
    const members = one ? [one] : data.getAll("m");
    if (!members.length) return wrong(button, "Nobody is ticked.");
    const note = (data.get("note") || "").trim();
    if (what === "HANDED_OVER" && !note) return wrong(form.elements.note, "Say to whom, and where.");
    if (what === "IN_GROUP" && form.elements.group && !data.get("group")) return say("Choose the group first.");
    panel.close();
    all.close();
    return markAll(what, members, { n: note, g: what === "IN_GROUP" && data.get("group") || "" });
  };
  const takeLook = (form, button) => {
    const filled = Object.fromEntries([...new FormData(form)].filter(([name]) => name !== "once")), act = button.value;
    if ((act === "found" || act === "fixed") && !(filled.end && filled.found)) return wrong(form.elements.found_note, "Choose above where, and what.");
    if (act === "found" && filled.found === "LIGHT_LENT" && !filled.runtime_min) return wrong(form.elements.runtime_min, "Say for how many minutes the lamp lasts.");
    panel.close();
    flash = { words: `${nameOf(filled.m)}: look-over kept.` };
    return keep([{ kind: "look", id: newID(), form: { ...filled, do: act } }]);
  };
  const fillPanel = (m) => {
    const roll = call.riders.find((r) => r.m === m);
    if (!roll) return;
    put(find("#panel-name"), roll.name);
    put(find("#panel-state"), `${words.states[roll.state]}${roll.last ? ", " + time(roll.last.t) : ""}`);
    const every = marks(), struck = new Set(every.filter((x) => x.w === "STRIKE").map((x) => x.s));
    find("#panel-marks").replaceChildren(...every.filter((x) => x.m === m && x.w !== "STRIKE").sort((a, b) => b.t - a.t).map((x) => {
      const text = `${time(x.t)} ${words.marks[x.w]}${x.g ? ", " + x.g : ""}${x.n ? ": " + x.n : ""}${x.unsent ? " (not sent)" : ""}`;
      return struck.has(x.id) ? element("li", {}, element("s", { textContent: text }), " struck")
        : element("li", {}, text, ...(x.id.startsWith("look-") && x.unsent ? [] : [element("button", { type: "button", className: "quiet", textContent: "Was a mistake", onclick: () => strike([x]) })]));
    }));
  };
  const openPanel = (m) => {
    panel.dataset.m = m;
    for (const form of panel.querySelectorAll("form")) {
      form.reset();
      form.elements.m.value = m;
    }
    fillPanel(m);
    panel.showModal();
    panel.scrollTop = 0;
  };

  const openAll = (group, what) => {
    const ticked = new Set(startFold.ticked(call.riders, group, what)), title = kept.basis.plans.find((p) => p.g === group)?.t || group;
    find("#all-name").textContent = title + ": " + words.marks[what].toLowerCase();
    const rows = [...section(group).querySelectorAll(".rl li")].map((li) => call.riders.find((r) => r.m === li.dataset.m));
    find(".ticks", all).replaceChildren(...rows.map((r) => element("label", {}, element("input", { type: "checkbox", name: "m", value: r.m, checked: ticked.has(r.m) }),
      element("span", {}, r.name + " ", element("small", { textContent: words.states[r.state] })))));
    Object.assign(find("button[name=what]", all), { value: what, textContent: words.buttons[what] });
    all.showModal();
  };

  // needsSignal sends what is kept before something that only the server can do, or says why it cannot be done.
  const needsSignal = async (go) => {
    say("One moment…");
    await sync();
    if (!signal) return say("That needs a signal. Nothing was changed.");
    if (unsent.some((e) => ours(e))) return say("Not yet: marks on this phone are not sent. Nothing was changed.");
    flash = undefined;
    return go();
  };
  document.addEventListener("submit", (event) => {
    const form = event.target, button = event.submitter;
    if (!kept || form.dataset.go) return;
    const below = new URL(form.action).pathname.slice(at.length);
    if (form.hasAttribute("data-online")) {
      event.preventDefault();
      needsSignal(() => {
        form.dataset.go = "1";
        form.requestSubmit(button);
        delete form.dataset.go;
      });
    } else if (below === "/mark" && button) {
      event.preventDefault();
      takeMark(form, button);
    } else if (below === "/look" && button) {
      event.preventDefault();
      takeLook(form, button);
    }
  });
  document.addEventListener("click", (event) => {
    const link = event.target.closest("a");
    if (event.target.closest("[data-shut]")) event.target.closest("dialog").close();
    if (off || !kept || !link || event.ctrlKey || event.metaKey || event.shiftKey) return;
    if (link.closest(".alls")) {
      event.preventDefault();
      const asked = new URL(link.href).searchParams;
      openAll(asked.get("group"), asked.get("what"));
    } else if (link.closest(".rl")) {
      event.preventDefault();
      openPanel(link.closest("li").dataset.m);
    } else if (link.hasAttribute("data-online")) {
      event.preventDefault();
      needsSignal(() => location.assign(link.href));
    }
  });
  // ---- the server ----
  const pull = async () => {
    let response, state;
    try {
      response = await fetch(at + "/state?since=" + (kept && kept.me === me ? kept.newest : 0), { signal: AbortSignal.timeout(15000) });
      state = await response.json();
    } catch { /* told by what is missing */ }
    if (response && response.status === 401) return "out";
    if (!state || response.status !== 200) return "later";
    if (state.me !== me) return "other";
    const device = Date.now();
    const wrongBy = Math.abs(device * 1000 - state.now) < 6e7 ? 0 : device * 1000 - state.now; // as the server reckons with a clock
    await startKeep.stood({ ...state, readAt: device, ahead: wrongBy });
    localStorage.setItem("start line of", me);
    if (state.look !== line.dataset.look && !panel?.open && !all?.open && sessionStorage.getItem("look") !== state.look) {
      sessionStorage.setItem("look", state.look); // once, should an old page come back
      location.reload();
    }
    return "";
  };
  let running, failed = 0, due = 0;
  const sync = () => running ||= (async () => {
    const ends = [await startSend.all(me, show), await pull()];
    session = ends.find((end) => end === "out" || end === "other" || end === "denied") || "";
    signal = !ends.includes("later") || session !== "";
    failed = ends.some(Boolean) ? failed + 1 : 0;
    due = Date.now() + (failed ? Math.min(5000 * 2 ** (failed - 1), 60000) : 20000);
    await show();
  })().finally(() => { running = undefined; });

  const tidy = async () => { // rides long past
    for (const old of await startKeep.rides()) {
      if (old.ride !== ride && Date.now() - old.readAt > 14 * 86400000) {
        await startKeep.forget(old.ride);
        await caches.delete("start line /" + old.ride + "/start");
      }
    }
  };
  find("#send").onclick = () => sync();
  find("#undo").onclick = () => strike(flash.undo);
  setInterval(() => { if (Date.now() >= due) sync(); }, 1000);
  setInterval(show, 30000);
  for (const name of ["online", "pageshow", "focus"]) addEventListener(name, () => sync());
  addEventListener("offline", () => { signal = false; show(); });
  document.addEventListener("visibilitychange", () => { if (!document.hidden) sync(); });
  const news = new EventSource("/" + ride + "/changes");
  news.addEventListener("change", () => { due = 0; });
  if (location.hash === "#no-signal") flash = { words: "That needs a signal, and did not get through. Look again when it is back." };
  if (navigator.serviceWorker) navigator.serviceWorker.register("/static/worker.js", { scope: at });
  navigator.storage?.persist?.();
  show().then(sync).then(tidy);
})();
