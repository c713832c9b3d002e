DROP TABLE refusal_about;
