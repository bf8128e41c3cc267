// The roll call without the server: startFold.call tells from what it rests on and the marks who is out and who is home, as
// internal/rollcall does; a test holds the two equal. Instants are µs since 1970. It knows neither page nor store.
const startFold = (() => {
  "use strict";
  const after = { SIGNED_ON: "SIGNED_ON", SET_OFF: "OUT", IN_GROUP: "OUT", TURNED_BACK: "TURNED_BACK", HOME: "HOME", HANDED_OVER: "HANDED_OVER", NO_SHOW: "DID_NOT_COME" };
  const words = { NOT_SEEN: "not seen yet", SIGNED_ON: "signed on", OUT: "out with the group", TURNED_BACK: "turned back, and not known to be home",
    HOME: "home", HANDED_OVER: "handed over", DID_NOT_COME: "marked as not come" };
  const next = (state, what) => after[what] || (what === "LOOKED_OVER" && (state === "NOT_SEEN" || state === "DID_NOT_COME") ? "SIGNED_ON" : state);
  const accounted = (state) => state === "HOME" || state === "HANDED_OVER" || state === "DID_NOT_COME";

  // compare orders texts as their UTF-8 does.
  const compare = (a, b) => {
    if (typeof a === "number") return a < b ? -1 : a > b ? 1 : 0;
    const x = [...a], y = [...b];
    for (let i = 0; i < x.length && i < y.length; i++) if (x[i] !== y[i]) return x[i].codePointAt(0) - y[i].codePointAt(0);
    return x.length - y.length;
  };
  const by = (...keys) => (a, b) => {
    for (const key of keys) {
      const d = compare(key(a), key(b));
      if (d) return d;
    }
    return 0;
  };
  const order = by((m) => m.t, (m) => m.d || "", (m) => m.id);

  // counting are the marks that count, in order.
  const counting = (marks) => {
    const struck = new Set(marks.filter((m) => m.w === "STRIKE").map((m) => m.m + " " + (m.s || "")));
    const seen = new Set(), out = [];
    for (const m of marks) {
      if (m.w === "STRIKE" || seen.has(m.id) || struck.has(m.m + " " + m.id)) continue;
      seen.add(m.id);
      out.push(m);
    }
    return out.sort(order);
  };

  // watch tells times in a zone: HH:MM, with the day where it is another than that of now.
  const watches = new Map();
  const format = (zone, options) => {
    const key = zone + Object.keys(options);
    if (!watches.has(key)) watches.set(key, new Intl.DateTimeFormat("en-GB", { timeZone: zone, ...options }));
    return watches.get(key);
  };
  const time = (zone, at) => format(zone, { hour: "2-digit", minute: "2-digit", hourCycle: "h23" }).format(new Date(Math.floor(at / 1000)));
  const day = (zone, at) => {
    const part = Object.fromEntries(format(zone, { weekday: "short", day: "numeric", month: "short" }).formatToParts(new Date(Math.floor(at / 1000))).map((p) => [p.type, p.value]));
    return part.weekday + " " + part.day + " " + part.month.slice(0, 3);
  };
  const clock = (zone, at, now) => time(zone, at) + (day(zone, at) === day(zone, now) ? "" : " on " + day(zone, at));

  const span = (min) => {
    const n = Math.trunc(min);
    return n < 60 ? n + " min" : n % 60 === 0 ? n / 60 + " h" : Math.trunc(n / 60) + " h " + (n % 60) + " min";
  };
  const km = (m) => String(Math.round(m / 1000 * 10) / 10) + " km";
  const along = (m, plan, what) => (what ? what + ", " : "") + km(m) + " of " + km(plan.d);

  // position is where a group is by its plan: [m, words], or nothing.
  const position = (plan, now, zone) => {
    const points = plan ? plan.p : [];
    if (!points.length) return undefined;
    if (now < points[0].a) return [0, "at the start until " + clock(zone, plan.s, now)];
    for (let i = 0; i < points.length - 1; i++) {
      const p = points[i], to = points[i + 1], leaves = p.l || p.a;
      if (now <= leaves && now >= p.a) return [p.m, along(p.m, plan, p.w)];
      if (now < to.a) {
        const m = p.m + (now - leaves) / (to.a - leaves) * (to.m - p.m);
        return [m, along(m, plan, "")];
      }
    }
    const last = points[points.length - 1];
    return [last.m, "home since " + clock(zone, last.a, now)];
  };

  const contrary = (from, to) => from !== to && (accounted(from) || to === "DID_NOT_COME" && from !== "NOT_SEEN");

  const doubts = (roll, marks, signing, zone) => {
    const said = roll.placed ? [] : ["has no place on this ride"];
    if (!marks.length) return said;
    let state = "NOT_SEEN", before, signed = false;
    for (const m of marks) {
      const to = next(state, m.w);
      if (before && contrary(state, to)) said.push(`${words[state]} at ${time(zone, before.t)}, but ${words[to]} at ${time(zone, m.t)}`);
      signed = signed || m.w === "SIGNED_ON" || m.w === "LOOKED_OVER";
      state = to;
      before = m;
    }
    if (signing && !signed && state !== "DID_NOT_COME") said.push("never signed on");
    const ahead = roll.last.ah;
    if (ahead) said.push(`the last mark is from a device whose clock was ${span(Math.abs(ahead) / 6e7)} ${ahead < 0 ? "slow" : "fast"}; its time is corrected`);
    return said;
  };

  const closed = (closings) => {
    let ride = false, groups = new Set(), known = new Set();
    for (const c of closings) {
      if (c.r) {
        [ride, groups, known] = [false, new Set(), new Set()];
        continue;
      }
      if (c.g) groups.add(c.g); else ride = true;
      for (const m of c.o || []) known.add(m);
    }
    return { ride, groups, known };
  };

  const lostStrikes = (marks) => {
    const there = new Map(marks.map((m) => [m.m + " " + m.id, m.w !== "STRIKE"]));
    const lost = new Set(marks.filter((m) => m.w === "STRIKE" && !there.get(m.m + " " + (m.s || ""))).map((m) => `mark ${m.s || ""} of ${m.m} is struck, and has not come yet`));
    return [...lost].sort(compare);
  };

  const counts = { NOT_SEEN: "not_seen", SIGNED_ON: "signed_on", OUT: "out", TURNED_BACK: "turned_back", HOME: "home", HANDED_OVER: "handed_over", DID_NOT_COME: "did_not_come" };

  // call tells how the roll call stands at a time.
  const call = (basis, marks, now) => {
    const count = counting(marks), zone = basis.zone || "UTC";
    const own = new Map(), plans = new Map(), rostered = new Map(), off = new Map(), groupNow = new Map();
    let lastHome;
    for (const plan of basis.plans) {
      plans.set(plan.g, plan);
      if (!lastHome || plan.h > lastHome.h) lastHome = plan;
    }
    for (const r of basis.riders) rostered.set(r.m, r.g || "");
    for (const m of count) {
      own.set(m.m, [...(own.get(m.m) || []), m]);
      const group = m.g || (groupNow.has(m.m) ? groupNow.get(m.m) : rostered.get(m.m) || "");
      groupNow.set(m.m, group);
      if (m.w === "SET_OFF" && group && !off.has(group)) off.set(group, m.t);
    }
    const signing = count.some((m) => m.w === "SIGNED_ON"), shut = closed(basis.closings);
    const shutIn = (group) => shut.ride || shut.groups.has(group);

    const rider = (member, name, group, placed) => {
      const roll = { m: member, name, group, placed, state: "NOT_SEEN", last: undefined, overdue: false };
      const mine = own.get(member) || [];
      for (const m of mine) {
        roll.last = m;
        roll.state = next(roll.state, m.w);
        if (m.g) roll.group = m.g;
      }
      if (off.has(roll.group) && roll.state === "SIGNED_ON" && roll.last.t <= off.get(roll.group)) roll.state = "OUT";
      roll.accounted = accounted(roll.state);
      roll.doubts = doubts(roll, mine, signing, zone);
      if (roll.accounted) return roll;
      const plan = plans.get(roll.group), at = position(plan, now, zone);
      if (at) [roll.planned_m, roll.planned] = at;
      if (plan || lastHome) {
        roll.due = (plan || lastHome).h + basis.grace;
        roll.overdue = !(shutIn(roll.group) && shut.known.has(member)) && now >= roll.due;
      }
      return roll;
    };
    const names = new Map(basis.others.map((o) => [o.m, o.n]));
    const riders = basis.riders.map((r) => rider(r.m, r.n, r.g || "", true));
    for (const member of own.keys()) if (!rostered.has(member)) riders.push(rider(member, names.get(member) || member, "", false));
    const place = new Map([["", basis.plans.length + 1], ...basis.plans.map((p, i) => [p.g, i + 1])]);
    riders.sort(by((r) => r.overdue ? 0 : r.accounted ? 2 : 1, (r) => place.get(r.group) || 0, (r) => r.group, (r) => r.name, (r) => r.m));

    const groups = [], found = new Map();
    const add = (id, title) => {
      const group = { g: id, title: title || id, riders: 0, overdue: 0, closed: shutIn(id), off: off.get(id) };
      for (const key of Object.values(counts)) group[key] = 0;
      found.set(id, group);
      groups.push(group);
    };
    for (const plan of basis.plans) add(plan.g, plan.t);
    for (const r of [...riders].sort(by((r) => r.group || "~"))) {
      if (!found.has(r.group)) add(r.group, "");
      const group = found.get(r.group);
      group.riders++;
      if (r.overdue) group.overdue++;
      group[counts[r.state]]++;
    }
    const late = riders.filter((r) => shutIn(r.group) && !r.accounted && !shut.known.has(r.m))
      .map((r) => `${r.name} is ${words[r.state]} by a mark that came after the closing; open the roll call again`);
    return { riders, groups, closed: shut.ride, accounted: riders.every((r) => r.accounted), doubts: [...late, ...lostStrikes(marks)] };
  };

  // ticked is who a mark for all of a group is for.
  const mayTick = { SIGNED_ON: ["NOT_SEEN"], SET_OFF: ["SIGNED_ON", "NOT_SEEN"], IN_GROUP: ["OUT", "SIGNED_ON", "NOT_SEEN"], HOME: ["OUT", "SIGNED_ON"] };
  const ticked = (riders, group, what) => {
    const state = mayTick[what].find((s) => riders.some((r) => r.group === group && r.state === s));
    return riders.filter((r) => r.group === group && r.state === state).map((r) => r.m);
  };

  // nextMark is what one tap marks.
  const nextMark = (state, off) => state === "NOT_SEEN" ? "SIGNED_ON" : state === "SIGNED_ON" && off ? "SET_OFF" : state === "OUT" || state === "TURNED_BACK" ? "HOME" : "";

  return { call, ticked, nextMark, time, clock, span };
})();
if (typeof module !== "undefined") module.exports = startFold;
