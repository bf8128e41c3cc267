// Package placement decides which riders ride in which group of a club run,
// and in what order they ride inside it.
//
// # The problem
//
// Choose which groups run and who rides in which, so that
//
//   - nobody rides in a group where the standing is [Held];
//   - a group that runs has at least MinSize and at most MaxSize riders, at
//     most BackPlaces of them of standing [Back]; one that does not run has none;
//   - where needed, a group that runs has one leader and one back marker, two
//     different qualified riders of its own (the named ones, if named);
//   - riders of one party ride in one group, or none of them rides;
//   - a junior rides only in the group of the guardian, who may ride without
//     the junior; a junior is never leader or back marker;
//   - a pinned rider rides in the pinned group or not at all;
//   - a rider who must ride rides, and a group that must run runs; where that
//     cannot be, the answer is that it cannot.
//
// Among all such placements the best has, in strict order, the most riders
// placed, the least discomfort ([Discomfort]), the most preferences met, and
// the fewest moves from the previous issue.
//
// # Ties
//
// Equal answers are told apart by a fixed rule, so that the same riders and
// groups give the same roster whatever order they come in and whatever machine
// works it out. Riders and groups are taken by ID. First, going through the
// groups in that order, a group runs if it can; then, going through the riders,
// each rides in the earliest group that still allows a best answer, and is left
// out only if none does. Should the search meet its limit (see
// Problem.NodeLimit) before all ties are settled, the rest stay as found, which
// is still the same on every machine.
//
// # How it is solved
//
// For a fixed set of running groups, and leaving parties aside, the problem is
// a minimum-cost flow: riders to the places of a group (front, back, leader,
// back marker) to the group. It is solved by successive shortest paths with
// node potentials over the few places, not over the many riders (Ahuja,
// Magnanti, Orlin: Network Flows, 1993, chapter 9). Sets of running groups are
// tried in the order of a Lagrangian bound taken from the flow in which every
// group may be part-filled (the same, chapter 16); a split party, a junior
// without the guardian, or a leader of standing Back who overfills the back
// places is resolved by branch and bound.
//
// The flow bounds loosely where many ride in parties or with a junior and places are
// short. A set of groups that it does not settle in a few hundred nodes is blended
// instead: a linear program in which a party with its juniors is one whole and may be
// at a mix of its ways to ride, solved by the simplex method with generalized upper
// bounds, with branch and bound over where one party rides. Which one is found by
// trying (strong branching: Applegate, Bixby, Chvátal, Cook: The Traveling Salesman
// Problem, 2006). Its arithmetic is floating-point, the same on every machine; every
// bound is worked out again in whole numbers before it counts.
//
// The limit counts nodes of the search, never time.
//
// Every problem tried is solved to the end within DefaultNodeLimit: DEVELOPERS.md says
// which were. Where one is not, the result has the best answer found, and the bound.
//
// [Certify] shows that the bound holds; package proof checks it.
package placement
