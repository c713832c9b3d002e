package core

// PhotosOf are the photos that go with what a command says: the SHA-256 of each
// as 64 hexadecimal digits. The record holds their names only; whoever asks for
// a decision has made sure that they are there.
func PhotosOf(b Body) []string {
	switch b := b.(type) {
	case ReportProblem:
		return b.Photos
	case SignOff:
		return b.Photos
	case ReceiveAtSite:
		return b.Photos
	case WorkAtSite:
		return b.Photos
	case TurnUp:
		return b.Photos
	case ReportSnag:
		return b.Photos
	case CloseSnag:
		return b.Photos
	}
	return nil
}
