package server

import (
	"encoding/json"
	"fmt"
	"net/http"
	"strings"

	"tagalong/internal/app"
	"tagalong/internal/words"
	"tagalong/web/endpoint"
)

// commandRow is one kind of command as its page shows it.
type commandRow struct {
	Kind    string          `json:"kind"`
	Doc     string          `json:"doc"`
	From    string          `json:"from"`
	Signers int             `json:"signers"`
	Roles   []string        `json:"roles,omitempty"`
	Body    json.RawMessage `json:"body"` // an example
}

// example is a whole request, made up.
const example = `{
  "id": "0b7f7a52-6f0e-4d0e-9a57-1f7d1c1f6a10",
  "happened": "2026-11-25T14:12:07Z",
  "sequence": 118,
  "body": { … },
  "sign": [{"badge": "BDG…", "pin": "six digits"}]
}`

func commandRows() ([]commandRow, error) {
	var out []commandRow
	for _, p := range app.Commands {
		body, err := json.MarshalIndent(p.Example, "", "  ")
		if err != nil {
			return nil, fmt.Errorf("write the example of %s: %w", p.Kind(), err)
		}
		row := commandRow{Kind: p.Kind(), Doc: p.Doc, From: string(p.From), Signers: p.Signers, Body: body}
		for _, r := range p.Roles {
			row.Roles = append(row.Roles, string(r))
		}
		out = append(out, row)
	}
	return out, nil
}

// signs says who must sign, in words.
func (c commandRow) signs() string {
	who := "anybody"
	if len(c.Roles) > 0 {
		who = strings.Join(c.Roles, " or ")
	}
	switch {
	case c.Signers > 0:
		return "badge and PIN of " + who
	case len(c.Roles) > 0:
		return "no signature; signed in as " + who
	}
	return "no signature"
}

func listCommands(w http.ResponseWriter, r *http.Request) error {
	all, err := commandRows()
	if err != nil {
		return err
	}
	if strings.Contains(r.Header.Get("Accept"), "text/html") {
		return endpoint.Render(w, r, commandsPage(endpoint.PageOf(r), all))
	}
	return endpoint.JSON(w, rows(all))
}

// refusalRow is one refusal as the table of all shows it.
type refusalRow struct {
	Code   string `json:"code"`
	Status int    `json:"status"`
	words.Message
}

func refusalRows() []refusalRow {
	var out []refusalRow
	for _, code := range words.Codes() {
		m, _ := words.Entry(code)
		out = append(out, refusalRow{code, endpoint.StatusOf(code), m})
	}
	return out
}

func listRefusals(w http.ResponseWriter, r *http.Request) error {
	if strings.Contains(r.Header.Get("Accept"), "text/html") {
		return endpoint.Render(w, r, refusalsPage(endpoint.PageOf(r), refusalRows()))
	}
	return endpoint.JSON(w, rows(refusalRows()))
}
