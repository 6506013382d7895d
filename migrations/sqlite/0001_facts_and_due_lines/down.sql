-- Takes back everything that `up.sql` makes. All facts are lost.
DROP TABLE report;
DROP TABLE due_line;
DROP TABLE engine_span;
DROP TABLE engine_status;
DROP TABLE engine_type;
DROP TABLE party;
DROP TABLE api_key;
DROP TABLE custody;
DROP TABLE serial_claim;
DROP TABLE link;
DROP TABLE fact_private;
DROP TRIGGER fact_is_never_deleted;
DROP TRIGGER fact_is_never_updated;
DROP TABLE fact;
DROP TABLE stream;
DROP TABLE fleet;
