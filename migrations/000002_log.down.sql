DROP TABLE event, event_pallet, event_lot, move, signature, reading, step_input, command, refusal;
DROP FUNCTION append_only(regclass);
DROP FUNCTION refuse_change();
