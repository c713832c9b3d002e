package shopgen

import (
	"fmt"

	"tagalong/internal/core"
)

// make gathers one unit of an assembly from the pallets at a bench and signs
// it. To is the pallet it goes on; empty for a fresh one. It returns the pallet.
func (f *floor) make(at core.StationID, item core.ItemID, owner core.Owner, to core.PalletCode) (core.PalletCode, error) {
	build, err := f.gather(at, item, owner)
	if err != nil {
		return "", err
	}
	return f.assemble(at, build, to)
}

// welding is the command that signs a gathered unit.
func (f *floor) welding(build core.Build, to core.PalletCode) (core.Assemble, error) {
	step, stage := f.firstStep(build.Item)
	inputs, err := f.inputs(stage, "")
	return core.Assemble{Build: build.Code, To: to, Checks: f.readings(step), Inputs: inputs}, err
}

func (f *floor) firstStep(item core.ItemRev) (core.Step, core.Stage) {
	step := f.book.Routes[f.book.Items[item].Route].Steps[0]
	stage, _ := f.book.Table.Stage(step.Stage)
	return step, stage
}

func (f *floor) assemble(at core.StationID, build core.Build, to core.PalletCode) (core.PalletCode, error) {
	c, err := f.welding(build, to)
	if err != nil {
		return "", err
	}
	step, stage := f.firstStep(build.Item)
	who, err := f.who(at, stage, step, []core.Lot{{Item: build.Item}})
	if err != nil {
		return "", err
	}
	f.pass(15, 30)
	e, err := f.do(at, c, who)
	if err != nil {
		return "", err
	}
	for _, effect := range e.Effects {
		if m := effect.Moved; m != nil && m.From.Kind == core.Made {
			return core.PalletCode(m.To.Ref), f.print(core.PalletCode(m.To.Ref), at)
		}
	}
	return "", fmt.Errorf("assembling %s made nothing", build.Item)
}

// gather collects what is at a bench for the next unit of an item.
func (f *floor) gather(at core.StationID, item core.ItemID, owner core.Owner) (core.Build, error) {
	f.pass(4, 10)
	e, err := f.do(at, core.Gather{Item: f.rev(item), Owner: owner})
	if err != nil {
		return core.Build{}, err
	}
	return f.state.Builds[core.BuildCode(e.Ref)], nil
}

// rev is an item at the one revision the demo has of it.
func (f *floor) rev(item core.ItemID) core.ItemRev {
	for r := range f.book.Items {
		if r.Item == item {
			return r
		}
	}
	return core.ItemRev{Item: item}
}
