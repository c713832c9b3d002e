package postgres

import (
	"context"
	"errors"
	"math/rand/v2"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
)

// transaction is one begun and ended inside batches, which saves the round
// trips of BEGIN and COMMIT.
type transaction struct {
	conn *pgx.Conn
	open bool
}

// begin queues the start; after a give-up it starts anew in the same batch.
func (tx *transaction) begin(b *pgx.Batch, mode string) {
	if tx.open {
		b.Queue("ROLLBACK")
	}
	b.Queue("BEGIN " + mode)
	tx.open = true
}

// commit queues the end and sends the batch.
func (tx *transaction) commit(ctx context.Context, b *pgx.Batch) error {
	b.Queue("COMMIT")
	if err := tx.conn.SendBatch(ctx, b).Close(); err != nil {
		return err
	}
	tx.open = false
	return nil
}

// end rolls back what was not committed. The caller's context may be over, but
// the connection must go back clean; if it can't, the pool throws it away.
func (tx *transaction) end(ctx context.Context) {
	if !tx.open || tx.conn.IsClosed() {
		return
	}
	ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), 5*time.Second)
	defer cancel()
	if _, err := tx.conn.Exec(ctx, "ROLLBACK"); err != nil {
		tx.conn.Close(ctx)
	}
}

// errMoved says that the rows a command names kept moving while it looked.
var errMoved = errors.New("the rows this command is about kept moving; send it again")

// attempts is how often a transaction is run before its failure is told.
const attempts = 6

// retry runs f again after a failure that another try may mend.
func retry(ctx context.Context, f func() error) error {
	for n := 1; ; n++ {
		err := f()
		if err == nil || n == attempts || !mendable(err) {
			return err
		}
		if !sleep(ctx, time.Duration(rand.Int64N(int64(n)*int64(10*time.Millisecond)))) {
			return err
		}
	}
}

// mendable: a serialisation failure, a deadlock, or a new code somebody else
// took first.
func mendable(err error) bool {
	var e *pgconn.PgError
	if !errors.As(err, &e) {
		return errors.Is(err, errMoved)
	}
	switch e.Code {
	case "40001", "40P01":
		return true
	case "23505":
		switch e.ConstraintName {
		case "pallet_pkey", "build_pkey", "consignment_pkey":
			return true
		}
	}
	return false
}
