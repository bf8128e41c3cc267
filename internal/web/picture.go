package web

import (
	"html/template"

	"gritward/internal/render"
	pb "gritward/proto/gritward/v1"
)

// pictures are one picture drawn for a telephone and for a desk.
type pictures struct{ Narrow, Wide template.HTML }

// lightOf draws the light of a plan's groups, in the club's time.
func (v *visit) lightOf(plan *pb.RidePlan) (pictures, error) {
	narrow, wide, err := render.PlanPictures(plan, v.who.GetClub().GetZone())
	return pictures{template.HTML(narrow), template.HTML(wide)}, err // a picture escapes the words in it itself
}

// codeOf draws the QR code of an address of these pages, for another device to open; nil where it is too long.
func codeOf(address string) *render.Code { return render.CodeOf(address) }
