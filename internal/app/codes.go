package app

import (
	"errors"

	"tagalong/internal/code"
	"tagalong/internal/core"
)

// checkCodes refuses a printed code that no print of ours can carry, before
// anything is looked up: a slip of the finger never becomes another pallet.
func checkCodes(n core.Names) error {
	for _, p := range n.Pallets {
		if err := checkCode(string(p), code.Pallet, code.Sheet); err != nil {
			return err
		}
	}
	for _, b := range n.Builds {
		if err := checkCode(string(b), code.Unit); err != nil {
			return err
		}
	}
	for _, c := range n.Consignments {
		if err := checkCode(string(c), code.Consignment); err != nil {
			return err
		}
	}
	return nil
}

func checkCode(text string, want ...code.Kind) error {
	c, err := ReadCode(text, want...)
	if err != nil {
		return err
	}
	if string(c) != text {
		return Refuse("bad-value", "field", "body", "problem", "the code "+shorten(text, 40)+" must be sent as "+string(c))
	}
	return nil
}

// ReadCode reads a code that was typed or scanned, in whatever shape, and
// refuses one that is not of the kinds wanted (any kind, where none is named).
func ReadCode(text string, want ...code.Kind) (code.Code, error) {
	scan, err := code.ParseScan(text)
	if err == nil && len(want) > 0 {
		err = scan.Code.Require(want...)
	}
	if err != nil {
		return "", codeRefusal(err)
	}
	return scan.Code, nil
}

// codeRefusal is the refusal of a code the leaf could not take.
func codeRefusal(err error) error {
	wrong, ok := errors.AsType[*code.Error](err)
	if !ok {
		return err
	}
	r := Refuse("code-"+string(wrong.Problem), "input", shorten(wrong.Input, 40))
	switch wrong.Problem {
	case code.WrongKind:
		r.Refusal.Params["got"] = wrong.Got.String()
		r.Refusal.Params["want"] = kindNames(wrong.Want)
	case code.Mistyped:
		r.Refusal.Params["advice"] = wrong.Error()
	}
	return r
}

func kindNames(kinds []code.Kind) string {
	out := ""
	for i, k := range kinds {
		if i > 0 {
			out += " or "
		}
		out += k.String()
	}
	return out
}
