// Sends what the phone kept, in order. What the server refuses for what it says is put aside, one by one, and does not hold up
// what comes behind it; everything else stays until it can be sent. startSend.all gives how it ended: "" where all is sent,
// "later", "out" (nobody is signed in), "other" (somebody else is), "denied".
const startSend = (() => {
  "use strict";
  const most = 50; // marks in a call

  const post = async (path, body) => {
    let answer, status = 0;
    try {
      const response = await fetch(path, { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(body), signal: AbortSignal.timeout(20000) });
      status = response.status;
      answer = await response.json();
    } catch { /* no signal, or no answer of the server's own */ }
    if (status === 401) return { end: "out" };
    if (!answer) return { end: "later" };
    if (status === 200) return { end: "", answer };
    if (answer.other) return { end: "other" };
    if (status === 403) return { end: "denied", answer };
    if (answer.refused || status === 413) return { end: "refused", answer };
    return { end: "later" };
  };

  const send = async (entries) => {
    const { kind, ride, me: by, early } = entries[0];
    const at = "/" + ride + "/start";
    if (kind === "look") return post(at + "/looks", { by, id: entries[0].id, at: entries[0].at, now: Date.now(), form: entries[0].form });
    return post(at + "/marks", { by, now: Date.now(), early: Boolean(early), marks: entries.map((e) => e.mark) });
  };

  // known tells that the server has a mark already: it was sent by this phone when it was another device, so to speak.
  const known = async (entry) => {
    const kept = entry.kind === "mark" && await startKeep.ride(entry.ride);
    return kept && kept.marks.some((m) => m.id === entry.mark.id && m.m === entry.mark.m && m.w === entry.mark.w);
  };

  const deliver = async (entries) => {
    const { end, answer } = await send(entries);
    if (end === "") {
      const look = entries[0].kind === "look";
      await startKeep.sent(entries, look ? [] : answer.marks, look && { at: entries[0].at, m: entries[0].form.m, ...answer });
    } else if (end === "refused" && entries.length === 1) {
      if (answer.reason === "ALREADY_EXISTS" && await known(entries[0])) await startKeep.sent(entries, []);
      else await startKeep.refused(entries[0], answer.reason, answer.words);
    } else if (end === "refused") {
      for (const entry of entries) {
        const one = await deliver([entry]);
        if (one) return one;
      }
    } else return end;
    return "";
  };

  const all = async (me, changed) => {
    const passed = new Set();
    let worst = "";
    for (;;) {
      const waiting = (await startKeep.unsent()).filter((e) => e.me === me && !passed.has(e.ride));
      if (!waiting.length) return worst;
      const first = waiting[0], like = (e) => e.kind === "mark" && first.kind === "mark" && e.ride === first.ride && Boolean(e.early) === Boolean(first.early);
      let n = 1;
      while (n < most && n < waiting.length && like(waiting[n])) n++;
      const end = await deliver(waiting.slice(0, n));
      await changed();
      if (end === "denied") {
        passed.add(first.ride); // another ride's may be let through
        worst = end;
      } else if (end) return end;
    }
  };

  // Of several windows only one sends.
  return { all: (me, changed) => navigator.locks ? navigator.locks.request("start line", { ifAvailable: true }, (lock) => lock ? all(me, changed) : "later") : all(me, changed) };
})();
