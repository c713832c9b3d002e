DROP FUNCTION order_due(text[]);
