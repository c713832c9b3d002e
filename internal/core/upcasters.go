package core

import (
	"bytes"
	"encoding/json"
	"strings"
)

// upcasters turn a stored payload of one version into the next. They are pure:
// the same bytes always come to the same event.
var upcasters = map[EventKind]map[int]func(json.RawMessage) (json.RawMessage, error){
	EvSigned:   {1: asItStands},
	EvShipped:  {1: vehicleForDriver},
	EvReceived: {1: vehicleForDriver},
}

// asItStands: version 1 of a sign-off did not keep what was said of the parts that
// are not done. All else it says as version 2 does, so that nothing is made anew
// of the many there are.
func asItStands(payload json.RawMessage) (json.RawMessage, error) { return payload, nil }

// vehicleForDriver leaves out the name of the driver that a consignment carried
// in version 1: the record holds no names of people but by their number. Which
// vehicle it was is not known of those consignments.
func vehicleForDriver(payload json.RawMessage) (json.RawMessage, error) {
	e, err := fields(payload)
	if err != nil {
		return nil, err
	}
	if note, _ := e["note"].(string); strings.HasPrefix(note, "driver ") {
		delete(e, "note")
	}
	effects, _ := e["effects"].([]any)
	for _, f := range effects {
		effect, _ := f.(map[string]any)
		if c, ok := effect["consignmentPut"].(map[string]any); ok {
			delete(c, "driver")
		}
	}
	return json.Marshal(e)
}

// fields opens a payload, with its numbers as they are written.
func fields(payload json.RawMessage) (map[string]any, error) {
	d := json.NewDecoder(bytes.NewReader(payload))
	d.UseNumber()
	var out map[string]any
	err := d.Decode(&out)
	return out, err
}
