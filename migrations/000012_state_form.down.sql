DROP TABLE state_form;
