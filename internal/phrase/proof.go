package phrase

import pb "gritward/proto/gritward/v1"

// Proof says whether a placement is the best there is, whether that was checked, and if not, by how much it may fall
// short; empty where there is no placement.
func Proof(placement *pb.Placement) string {
	bound := placement.GetBound()
	switch {
	case placement == nil:
		return ""
	case placement.GetDoubt() != "":
		return "The proof of this placement does not hold, so it may not be the best; tell whoever keeps the server: " + placement.GetDoubt() + "."
	case placement.GetProven() && placement.GetPlaced() == 0:
		return "Nobody can be placed."
	case placement.GetProven() && placement.GetChecked():
		return "This is the best placement there is, and its proof was checked."
	case placement.GetProven():
		return "This is the best placement there is."
	case bound.GetPlaced() > placement.GetPlaced():
		return "This placement is not proven the best there is: at most " + Counted(int(bound.GetPlaced()), "rider", "riders") + " could be placed."
	case bound != nil:
		return "As many riders are placed as can be, but others might suit them better: this is not proven the best there is."
	}
	return "This placement is not proven the best there is."
}
