package words

import "strings"

//go:generate go run ./gentable

// Table is every refusal as a Markdown table: code, sentence, remedy.
func Table() string {
	var b strings.Builder
	b.WriteString("| code | sentence | remedy |\n|---|---|---|\n")
	for _, code := range Codes() {
		m := english[code]
		b.WriteString("| " + code + " | " + cell(m.Sentence) + " | " + cell(m.Remedy) + " |\n")
	}
	return b.String()
}

// cell keeps a text in one cell.
func cell(text string) string { return strings.ReplaceAll(text, "|", `\|`) }

// Document is the file REFUSALS.md, made from the message files.
func Document() string {
	return "# Every refusal\n\nMade from the message files in en/ by `go generate`; change those, not this. " +
		"What is in braces is put in when it is said.\n\n" + Table()
}
