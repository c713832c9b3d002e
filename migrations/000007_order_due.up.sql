-- What orders are to be delivered: their lines, a product without a route of its own as the components it is put together of
-- at the site. It follows the bills as they stand, as core.Deliverables does.
CREATE FUNCTION order_due(nos text[]) RETURNS TABLE (order_no text, line integer, item text, qty bigint)
LANGUAGE sql STABLE AS $$
    WITH RECURSIVE due AS (
        SELECT l.order_no, l.line, l.item, l.rev, l.qty::bigint AS qty, 0 AS depth FROM order_line l WHERE l.order_no = ANY(nos)
        UNION ALL
        SELECT d.order_no, d.line, c.component ->> 'item', c.component ->> 'rev', d.qty * c.qty, d.depth + 1
        FROM due d
        JOIN item i ON i.key = d.item || '@' || d.rev
        CROSS JOIN LATERAL (
            SELECT b.part -> 'item' AS component, (b.part ->> 'qty')::bigint AS qty FROM jsonb_array_elements(i.body -> 'bill') AS b(part)
        ) c
        WHERE coalesce(i.body -> 'route' ->> 'name', '') = '' AND d.depth < 20
    )
    SELECT d.order_no, d.line, d.item, sum(d.qty)::bigint FROM due d
    LEFT JOIN item i ON i.key = d.item || '@' || d.rev
    WHERE NOT (coalesce(i.body -> 'route' ->> 'name', '') = '' AND coalesce(jsonb_array_length(i.body -> 'bill'), 0) > 0 AND d.depth < 20)
    GROUP BY d.order_no, d.line, d.item
$$;

-- Orders that had left whole, as components, and did not count so.
UPDATE orders o SET open = EXISTS (
    SELECT FROM order_due(ARRAY[o.no]) ol WHERE ol.qty > coalesce((
        SELECT sum(l.qty) FROM lot l
        WHERE l.owner_order = o.no AND l.owner_line = ol.line AND l.item = ol.item AND l.shipped), 0));
