DROP VIEW held_lot;
DROP TABLE pallet, lot, lot_parent, lot_heat, lot_sheet, lot_batch, build, consignment, hold, problem, abrasive,
    orders, order_line, nest;
