-- A notebook as the first schema had it: a finished coat and one broken off.
PRAGMA application_id = 2003332210; PRAGMA user_version = 1;
PRAGMA foreign_keys=OFF;
BEGIN TRANSACTION;
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
);
INSERT INTO coats VALUES(1,'3031e3e1090622aa13743df621e2dbc8',1709217000250,'gauge 3','bottom','thin coat','bench spinner','Amber 25','rain gauge',1,'simulated spinner 0.1',4.9999999999999997736e-07,6,'["no lid switch"]','lid','the lid was opened','even','{"reached":1}',1500000);
INSERT INTO coats VALUES(2,'6119136bd5bcbfc07ea54dfdaf597b86',1709217000250,'gauge 3','bottom','thin coat','bench spinner','Amber 25','rain gauge',1,'simulated spinner 0.1',4.9999999999999997736e-07,6,'["no lid switch"]',NULL,NULL,NULL,NULL,NULL);
CREATE TABLE files (              -- each text once, however many coats used it
  id          INTEGER PRIMARY KEY,
  text        TEXT NOT NULL UNIQUE
);
INSERT INTO files VALUES(1,replace('{"kind":"profile"} // ü\n','\n',char(10)));
INSERT INTO files VALUES(2,'{}');
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
CREATE TABLE events (
  coat        INTEGER NOT NULL REFERENCES coats(number),
  seq         INTEGER NOT NULL,
  at_us       INTEGER NOT NULL,
  text        TEXT NOT NULL,
  PRIMARY KEY (coat, seq)
) WITHOUT ROWID;
INSERT INTO events VALUES(1,0,500000,'ramping');
DELETE FROM sqlite_sequence;
INSERT INTO sqlite_sequence VALUES('coats',2);
COMMIT;
