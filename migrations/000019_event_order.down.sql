DROP TABLE event_order;
