-- A log as the first form wrote it, with takes in it; kept as it was, whatever the code says now.
CREATE TABLE player(player_id TEXT PRIMARY KEY, nickname TEXT NOT NULL, created_utc TEXT NOT NULL) STRICT;
CREATE TABLE take(take_id TEXT PRIMARY KEY, player_id TEXT NOT NULL REFERENCES player ON DELETE CASCADE,
  recorded_utc TEXT NOT NULL, utc_offset_min INT NOT NULL, audio_sha256 TEXT, audio_name TEXT, duration_s REAL,
  instrument TEXT, string INT, fret INT, finger INT, technique TEXT, tempo_bpm REAL, cycles_per_beat INT,
  software TEXT NOT NULL, remark TEXT) STRICT;
CREATE TABLE note(take_id TEXT NOT NULL REFERENCES take ON DELETE CASCADE, i INT NOT NULL, onset_s REAL NOT NULL,
  offset_s REAL NOT NULL, home_hz REAL, home_error_cents REAL, home_place TEXT, home_source TEXT,
  PRIMARY KEY(take_id, i)) STRICT, WITHOUT ROWID;
CREATE TABLE turn(take_id TEXT NOT NULL REFERENCES take ON DELETE CASCADE, i INT NOT NULL, note INT NOT NULL,
  time_s REAL NOT NULL, hz REAL NOT NULL, error_cents REAL NOT NULL, PRIMARY KEY(take_id, i)) STRICT, WITHOUT ROWID;
CREATE TABLE measure(take_id TEXT NOT NULL REFERENCES take ON DELETE CASCADE, note INT NOT NULL, name TEXT NOT NULL,
  value REAL NOT NULL, spread REAL, error REAL, unit TEXT NOT NULL, n INT NOT NULL,
  PRIMARY KEY(take_id, note, name)) STRICT, WITHOUT ROWID;
CREATE TABLE finding(take_id TEXT NOT NULL REFERENCES take ON DELETE CASCADE, place INT NOT NULL, kind TEXT NOT NULL,
  verdict TEXT NOT NULL, teacher_says TEXT, PRIMARY KEY(take_id, place)) STRICT, WITHOUT ROWID;
CREATE TABLE task(task_id TEXT PRIMARY KEY, player_id TEXT NOT NULL REFERENCES player ON DELETE CASCADE,
  kind TEXT NOT NULL, tempo_bpm REAL, cycles_per_beat INT, set_utc TEXT NOT NULL, due_utc TEXT) STRICT;
CREATE INDEX take_by_player ON take(player_id, recorded_utc);
PRAGMA application_id = 1986817895;
PRAGMA user_version = 1;

INSERT INTO player VALUES('00000000-0000-4000-8000-00000000000a', 'bench 3', '2026-03-02T18:00:00.000');
INSERT INTO player VALUES('00000000-0000-4000-8000-00000000000b', 'bench 4', '2026-03-02T18:01:00.000');
-- The first form allowed a label twice; it was meant as one player.
INSERT INTO player VALUES('00000000-0000-4000-8000-00000000000c', 'bench 3', '2026-03-03T18:00:00.000');
INSERT INTO take VALUES('10000000-0000-4000-8000-000000000001', '00000000-0000-4000-8000-00000000000a',
  '2026-03-02T18:00:00.000', 60, 'aa', 'first.flac', 12.0, 'old semi-hollow', 3, 9, 3, 'bend', 60.0, 2,
  'vibrato-lessons 0.0', 'cold hands');
INSERT INTO take VALUES('10000000-0000-4000-8000-000000000002', '00000000-0000-4000-8000-00000000000b',
  '2026-03-02T18:01:00.000', 60, 'bb', 'second.flac', 12.0, NULL, NULL, NULL, NULL, NULL, NULL, NULL,
  'vibrato-lessons 0.0', NULL);
INSERT INTO take VALUES('10000000-0000-4000-8000-000000000003', '00000000-0000-4000-8000-00000000000c',
  '2026-03-03T18:00:00.000', 60, 'cc', 'third.flac', 12.0, NULL, 3, 9, 3, 'not said', 72.0, 3,
  'vibrato-lessons 0.0', NULL);
INSERT INTO note VALUES('10000000-0000-4000-8000-000000000001', 0, 0.1, 4.0, 220.0, 0.5, 'bottom', 'straight part');
INSERT INTO turn VALUES('10000000-0000-4000-8000-000000000001', 0, 0, 1.0, 220.0, 1.0);
INSERT INTO turn VALUES('10000000-0000-4000-8000-000000000001', 1, 0, 1.25, 223.0, 1.0);
INSERT INTO turn VALUES('10000000-0000-4000-8000-000000000001', 2, 0, 1.5, 220.1, 1.0);
INSERT INTO measure VALUES('10000000-0000-4000-8000-000000000001', -1, 'returned_share', 75.0, NULL, 2.0, '%', 8);
INSERT INTO finding VALUES('10000000-0000-4000-8000-000000000001', 0, 'return', 'nearly', NULL);
INSERT INTO task VALUES('20000000-0000-4000-8000-000000000001', '00000000-0000-4000-8000-00000000000c', 'eighths-60',
  60.0, 2, '2026-03-03T18:00:00.000', '2026-03-09T00:00:00.000');
