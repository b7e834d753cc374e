-- A notebook as the third schema had it: the second one's, with the log's own columns and index.
PRAGMA application_id = 2003332210; PRAGMA user_version = 3;
PRAGMA foreign_keys=OFF;
BEGIN TRANSACTION;
CREATE TABLE coat_files (
  coat        INTEGER NOT NULL REFERENCES coats(number),
  seq         INTEGER NOT NULL,
  role        TEXT NOT NULL,
  name        TEXT NOT NULL,
  file        INTEGER NOT NULL REFERENCES files(id),
  PRIMARY KEY (coat, seq)
) WITHOUT ROWID;
INSERT INTO coat_files VALUES(1,0,'profile','thin.json',1);
INSERT INTO coat_files VALUES(1,1,'machine','bench.json',2);
INSERT INTO coat_files VALUES(2,0,'profile','thin.json',1);
INSERT INTO coat_files VALUES(2,1,'machine','bench.json',2);
CREATE TABLE coats (
  number      INTEGER PRIMARY KEY AUTOINCREMENT,
  uid         TEXT NOT NULL UNIQUE,
  started_ms  INTEGER NOT NULL,
  board       TEXT NOT NULL,
  side        TEXT NOT NULL,
  profile     TEXT NOT NULL,
  machine     TEXT NOT NULL,
  resist      TEXT NOT NULL,
  blank       TEXT NOT NULL,
  simulated   INTEGER NOT NULL,
  driver      TEXT NOT NULL,
  tick_s      REAL NOT NULL,
  marks       INTEGER NOT NULL,
  cautions    TEXT NOT NULL,      -- a JSON array of texts
  outcome     TEXT,               -- NULL: no end was written
  cause       TEXT,
  verdict     TEXT,
  summary     TEXT,
  length_us   INTEGER
, wanted_um REAL, measured_um REAL);
INSERT INTO coats VALUES(1,'3031e3e1090622aa13743df621e2dbc8',1709217000250,'gauge 3','bottom','thin coat','bench spinner','Amber 25','rain gauge',1,'simulated spinner 0.1',4.9999999999999997736e-07,6,'["no lid switch"]','lid','the lid was opened','even','{"reached":1}',1500000,1.6000000000000000888,1.580000000000000071);
INSERT INTO coats VALUES(2,'6119136bd5bcbfc07ea54dfdaf597b86',1709217000250,'gauge 3','bottom','thin coat','bench spinner','Amber 25','rain gauge',1,'simulated spinner 0.1',4.9999999999999997736e-07,6,'["no lid switch"]',NULL,NULL,NULL,NULL,NULL,NULL,NULL);
CREATE TABLE events (
  coat        INTEGER NOT NULL REFERENCES coats(number),
  seq         INTEGER NOT NULL,
  at_us       INTEGER NOT NULL,
  text        TEXT NOT NULL,
  PRIMARY KEY (coat, seq)
) WITHOUT ROWID;
INSERT INTO events VALUES(1,0,500000,'ramping');
CREATE TABLE files (              -- each text once, however many coats used it
  id          INTEGER PRIMARY KEY,
  text        TEXT NOT NULL UNIQUE
);
INSERT INTO files VALUES(1,replace('{"kind":"profile"} // ü\n','\n',char(10)));
INSERT INTO files VALUES(2,'{}');
CREATE TABLE notes (
  number      INTEGER PRIMARY KEY AUTOINCREMENT,
  at_ms       INTEGER NOT NULL,
  kind        TEXT NOT NULL,
  board       TEXT NOT NULL,
  coat        INTEGER REFERENCES coats(number), -- NULL: about none
  resist      TEXT NOT NULL,
  document    TEXT NOT NULL                     -- JSON
);
INSERT INTO notes VALUES(1,1795912474113,'thickness','gauge 3',1,'Amber 25','{"wanted_um":1.6,"measured_um":1.62}');
INSERT INTO notes VALUES(2,1795912535178,'thickness','gauge 3',1,'Amber 25','{"measured_um":1.58}');
INSERT INTO notes VALUES(3,1795912600000,'washed off','gauge 3',1,'Amber 25','{"side":"bottom"}');
INSERT INTO notes VALUES(4,1795912660000,'poured over','gauge 3',1,'Amber 25','{"side":"bottom"}');
CREATE TABLE pulse_chunks (
  coat        INTEGER NOT NULL REFERENCES coats(number),
  seq         INTEGER NOT NULL,
  data        BLOB NOT NULL,
  PRIMARY KEY (coat, seq)
) WITHOUT ROWID;
INSERT INTO pulse_chunks VALUES(1,0,X'0c06d00fa868000000006b000000000001060b0500');
INSERT INTO pulse_chunks VALUES(1,1,X'000600010007');
INSERT INTO pulse_chunks VALUES(2,0,X'0c06d00fa868000000006b00000000000000');
CREATE TABLE sample_chunks (
  coat        INTEGER NOT NULL REFERENCES coats(number),
  seq         INTEGER NOT NULL,
  data        BLOB NOT NULL,
  PRIMARY KEY (coat, seq)
) WITHOUT ROWID;
INSERT INTO sample_chunks VALUES(1,0,X'0300c0843dc0843d00f40300c0b802d00f00c2b8020000c0b802d00f00c2b8020000');
DELETE FROM sqlite_sequence;
INSERT INTO sqlite_sequence VALUES('coats',2);
INSERT INTO sqlite_sequence VALUES('notes',4);
CREATE INDEX notes_of_coat ON notes (coat);
CREATE INDEX notes_of_board ON notes (board);
CREATE VIEW thickness_notes AS SELECT number, coat,
  CASE WHEN json_valid(document) THEN CASE
    WHEN json_type(document, '$.wanted_um') IN ('integer', 'real')
     AND json_extract(document, '$.wanted_um') > 0 AND json_extract(document, '$.wanted_um') < 9e999
    THEN json_extract(document, '$.wanted_um') END END AS wanted_um,
  CASE WHEN json_valid(document) THEN CASE
    WHEN json_type(document, '$.measured_um') IN ('integer', 'real')
     AND json_extract(document, '$.measured_um') > 0
     AND json_extract(document, '$.measured_um') < 9e999
    THEN json_extract(document, '$.measured_um') END END AS measured_um
  FROM notes WHERE kind = 'thickness' AND coat IS NOT NULL;
CREATE TRIGGER thickness_noted AFTER INSERT ON notes
  WHEN NEW.kind = 'thickness' AND NEW.coat IS NOT NULL
BEGIN
  UPDATE coats SET
    wanted_um = coalesce((SELECT wanted_um FROM thickness_notes WHERE number = NEW.number),
                         wanted_um),
    measured_um = coalesce((SELECT measured_um FROM thickness_notes WHERE number = NEW.number),
                           measured_um)
  WHERE number = NEW.coat;
END;
CREATE INDEX log_lines ON coats (number, started_ms, board, side, profile, machine, resist, blank,
                                 simulated, outcome, verdict, wanted_um, measured_um);
COMMIT;
