package paperwork

import (
	"context"
	"encoding/json"

	"github.com/google/uuid"

	"tagalong/internal/app"
	"tagalong/internal/core"
)

// Orders reads the travellers of an order.
type Orders interface {
	OrderPrints(ctx context.Context, no string) (app.OrderPrints, error)
}

// OrderPallets lists the pallets that carry parts of an order and are still in
// the shop or on a consignment that hasn't left, by their codes. The error is
// app.ErrNotFound for an order there isn't.
func OrderPallets(ctx context.Context, from Orders, no string) ([]core.PalletCode, error) {
	order, err := from.OrderPrints(ctx, no)
	if err != nil {
		return nil, err
	}
	out := make([]core.PalletCode, len(order.Pallets))
	for i, p := range order.Pallets {
		out[i] = p.Code
	}
	return out, nil
}

// NumberAll numbers the next print of each of several pallets. It stops at the
// first that is refused; those before it keep their numbers. Asked again with
// the same id, as after a double press, each is numbered once.
func NumberAll(ctx context.Context, s *app.Service, by app.Caller, id uuid.UUID, pallets []core.PalletCode) error {
	for _, p := range pallets {
		if err := Number(ctx, s, by, core.CommandID(uuid.NewSHA1(id, []byte(p)).String()), p); err != nil {
			return err
		}
	}
	return nil
}

// Number numbers the next print of a pallet's traveller, by the command that
// the screens send; asked again with the same id, it is numbered once. Its
// errors are those of app.Service.Do.
func Number(ctx context.Context, s *app.Service, by app.Caller, id core.CommandID, pallet core.PalletCode) error {
	body, err := json.Marshal(core.PrintTraveller{Pallet: pallet})
	if err != nil {
		return err
	}
	req := app.Request{ID: id, Happened: s.Clock(), Body: body}
	_, err = s.Do(ctx, by, core.PrintTraveller{}.Kind(), req)
	return err
}
