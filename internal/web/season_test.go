package web_test

import (
	"encoding/json"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"gritward/internal/demo"
)

func TestSeason(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	season := "/" + w.club() + "/season"
	b := w.signIn(demo.Secretary)
	b.open(season).is(http.StatusOK).says("1 October 2026 to 31 March 2027", "it names members", "In numbers", demo.Secretary)
	if strings.Contains(b.page, "style=") || strings.Contains(b.page, "<style") {
		t.Error("the page has a style of its own, which its policy of content forbids")
	}
	b.open(season + "/data?from=2026-10-01&to=2027-03-31").is(http.StatusOK)
	if !json.Valid([]byte(b.page)) {
		t.Error(b.page)
	}
	if b.open(season + "/page?from=2026-10-01&to=2027-03-31"); !strings.HasPrefix(b.page, "<!DOCTYPE html>") || !strings.Contains(b.page, "<style>") {
		t.Error("the page is not complete in itself")
	}
	b.open(season + "?from=2027-03-31&to=2026-10-01").is(http.StatusUnprocessableEntity).says("To")
	b.open(season + "?from=%3Cscript%3E&to=x").is(http.StatusUnprocessableEntity)
	b.open(season + "?from=2020-01-01&to=2020-02-01").is(http.StatusOK).says("There are no rides on these days")
	w.signIn(demo.Leader).open(season).is(http.StatusOK).says("Without names").saysNot(demo.Secretary)
	w.signIn("Silas Whinfell").open(season).is(http.StatusForbidden)
}

func TestAuditPage(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	audit := "/" + w.club() + "/audit"
	b := w.signIn(demo.Secretary)
	b.open(audit).is(http.StatusOK).says("Audit log", "Imke Vard", "invited someone", "Older entries", "note this elsewhere")
	b.open(audit + "?before=3").saysNot("Older entries")
	b.open(audit + "?about=" + url.QueryEscape("hetty marlock")).is(http.StatusOK).says("Hetty Marlock").saysNot("Silas Whinfell")
	b.open(audit + "?about=clubs/marrowdale/policies/1").is(http.StatusOK).says("adopted a policy")
	b.open(audit + "?about=%3Cscript%3E&before=x").is(http.StatusUnprocessableEntity)
	if strings.Contains(b.page, "<script>\"") {
		t.Error(b.page)
	}
	w.signIn(demo.Leader).open(audit).is(http.StatusForbidden)
}
