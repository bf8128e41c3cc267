package readiness

import pb "gritward/proto/gritward/v1"

// job is a set of pieces of work, so that what is done with one of them is not asked for again beside it: a new chain is
// lubricated, new pads are not glazed, a new tyre is whole.
type job uint64

// Work on a bike. That on an end takes two bits, front then rear; that on a bearing five.
const (
	jobChainRenew job = 1 << iota
	jobDegrease
	jobLubricate
	jobLubricant // to degrease, and to lubricate with something else
	jobWash
	jobLookOver
	jobPads // to renew them
	_
	jobOil // to renew pads and to clean what they brake on
	_
	jobGlaze
	_
	jobBed
	_
	jobRotor
	_
	jobBrake // to have one fitted
	_
	jobTyre // to renew it
	_
	jobCuts // to clean them out
	_
	jobTyreWider
	_
	jobTyreNarrower
	_
	jobTyreGap // to measure it
	_
	jobGuard // to fit one
	_
	jobBearing
	_
	_
	_
	_
	jobPlay // to have it taken out
	_
	_
	_
	_
	jobFound // to put right what was found
)

// at is the work on one end.
func (j job) at(end pb.End) job {
	if end == pb.End_REAR {
		return j << 1
	}
	return j
}

// of is the work on one bearing.
func (j job) of(place pb.CareEntry_Place) job { return j << (place - pb.CareEntry_HEADSET) }
