// Package expression compiles and evaluates the expressions that a club writes into its policy, in the Common Expression
// Language (https://cel.dev), over one bike's declared facts and the plan of one group.
//
// What an expression may name: bike (a gritward.v1.BikeFacts), group (a gritward.v1.GroupPlan), the circumstances
// season, dark, poor_visibility, wet, dry and ice, and the words of enums: REAR, STEADY, or with their owner where a
// bare word is not clear, Guard.NONE and Brake.NONE. Of the language's own functions there are all but regular
// expressions, dyn and type; of its macros has, all, exists, exists_one, map and filter.
//
// A fact that was not declared has no value. Reading it is an error, not a 0, and the error is the result unless the rest
// of the expression decides without it: true || error is true, false && error is false, and so with exists and all. has()
// asks whether a fact was declared. A list is never "not declared": it is empty, and all() of an empty list is true.
//
// Every number among the facts is a decimal, and a whole number written beside one is read as a decimal: to the language
// alone group.lit_min + 30 would be an error. Whole numbers come from size() only.
//
// An expression is typed, and its cost bounded, when it is compiled: one that could cost more than MaxCost for a bike
// and a group within their limits is refused. The limit is held once more when it runs, for data outside their limits.
package expression
