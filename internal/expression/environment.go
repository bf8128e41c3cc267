package expression

import (
	"sync"

	"cel.dev/cel-go/cel"
	"cel.dev/cel-go/common/env"
	"cel.dev/cel-go/common/operators"
	"cel.dev/cel-go/common/overloads"
	"cel.dev/cel-go/common/types"
	"cel.dev/cel-go/common/types/ref"
	"cel.dev/cel-go/common/types/traits"

	pb "gritward/proto/gritward/v1"
)

// maxDepth is how deep brackets, lists and the like may be nested.
const maxDepth = 30

// environment is what all expressions are compiled in. It never changes once built.
type environment struct {
	*vocabulary
	cel *cel.Env
}

// shared builds the environment when the first expression is compiled: that takes about as long as compiling ten.
var shared = sync.OnceValues(newEnvironment)

func newEnvironment() (*environment, error) {
	v := newVocabulary()
	built, err := newCEL(v, provider{v})
	return &environment{v, built}, err
}

// newCEL makes the language's own environment.
func newCEL(v *vocabulary, p types.Provider) (*cel.Env, error) {
	without := env.NewLibrarySubset().AddExcludedFunctions(
		env.NewFunction("matches"), // regular expressions: another language to learn, and to bound
		env.NewFunction("dyn"),     // goes round the types
		env.NewFunction("type"),    // is of no use without dyn
		env.NewFunction(operators.Divide),
	)
	return cel.NewCustomEnv(append(v.declarations(),
		cel.StdLib(cel.StdLibSubset(without)), division(),
		cel.CustomTypeProvider(p), cel.CustomTypeAdapter(adapter{}),
		cel.CrossTypeNumericComparisons(true), cel.HomogeneousAggregateLiterals(), cel.DefaultUTCTimeZone(true),
		cel.ParserRecursionLimit(maxDepth), cel.ParserExpressionSizeLimit(MaxLength), cel.ParserErrorRecoveryLimit(1),
	)...)
}

// division is the language's own, but a decimal divided by zero is an error, as it is for whole numbers: it would be a
// value that is greater than all limits, or not a number, of which neither < nor >= is true.
func division() cel.EnvOption {
	return cel.Function(operators.Divide,
		cel.Overload(overloads.DivideDouble, []*cel.Type{cel.DoubleType, cel.DoubleType}, cel.DoubleType),
		cel.Overload(overloads.DivideInt64, []*cel.Type{cel.IntType, cel.IntType}, cel.IntType),
		cel.SingletonBinaryBinding(func(a, b ref.Val) ref.Val {
			divider, ok := a.(traits.Divider)
			switch {
			case !ok:
				return types.MaybeNoSuchOverloadErr(a)
			case b == types.Double(0):
				return types.NewErr("division by zero")
			default:
				return divider.Divide(b)
			}
		}))
}

// declarations are what an expression can begin a name with.
func (v *vocabulary) declarations() []cel.EnvOption {
	declared := []cel.EnvOption{
		cel.Variable("bike", cel.ObjectType("BikeFacts")), cel.Variable("group", cel.ObjectType("GroupPlan")),
	}
	for _, c := range circumstances() {
		declared = append(declared, cel.Variable(c.word, cel.BoolType))
	}
	for name, w := range v.words {
		declared = append(declared, cel.Constant(name, w.enum, types.Int(w.number)))
	}
	return declared
}

// circumstance gives the circumstance that a word of expressions stands for.
func circumstance(word string) (pb.Circumstance, bool) {
	for _, c := range circumstances() {
		if c.word == word {
			return c.value, true
		}
	}
	return 0, false
}

type circumstanceWord struct {
	word  string
	value pb.Circumstance
}

// circumstances are the words for the circumstances that may hold for a group.
func circumstances() [6]circumstanceWord {
	return [...]circumstanceWord{
		{"season", pb.Circumstance_SEASON}, {"dark", pb.Circumstance_DARK}, {"poor_visibility", pb.Circumstance_POOR_VISIBILITY},
		{"wet", pb.Circumstance_WET}, {"dry", pb.Circumstance_DRY}, {"ice", pb.Circumstance_ICE},
	}
}
