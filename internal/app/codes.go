package app

import (
	"errors"
	"strconv"

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
		return Refuse("bad-value", "field", "body", "problem", "the code "+Shorten(text, 40)+" must be sent as "+string(c))
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
	input := Shorten(wrong.Input, 40)
	switch wrong.Problem {
	case code.Empty:
		return Refuse("code-empty")
	case code.WrongKind:
		return Refuse("code-wrong-kind", "input", input, "got", wrong.Got.String(), "want", kindNames(wrong.Want))
	case code.Mistyped:
		return Refuse("code-mistyped", "input", input, "slip", slip(wrong))
	}
	return Refuse("code-foreign", "input", input)
}

// slip says what gave a mistyped code away.
func slip(e *code.Error) string {
	switch {
	case e.Maybe != "":
		return "the keyboard may have exchanged Y and Z, and the ticket may say " + e.Maybe.Spaced()
	case e.Reason == code.LookAlike:
		return "our codes never use 0, O, 1, I or L"
	case e.Reason == code.WrongLength:
		return "it has " + strconv.Itoa(e.Symbols) + " symbols and our codes have " + strconv.Itoa(code.Length)
	case e.Reason == code.TwoReadings:
		return "the scanner's keyboard setting changed it, and it can be read in two ways"
	}
	return "a symbol is wrong, or two changed places"
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
