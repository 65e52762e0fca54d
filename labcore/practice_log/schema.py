"""The tables, as numbered steps: a log of any age is brought to the newest one step at a time.

A step that has been handed out is never edited; a change is a new step at the end.
"""

APPLICATION_ID = 0x76_6C_6F_67  # 'vlog' in ASCII: tells our file from another program's

_FIRST = (
    """CREATE TABLE player (
        player_id TEXT PRIMARY KEY,
        nickname TEXT NOT NULL,
        created_utc TEXT NOT NULL
    ) STRICT""",
    """CREATE TABLE take (
        take_id TEXT PRIMARY KEY,
        player_id TEXT NOT NULL REFERENCES player ON DELETE CASCADE,
        recorded_utc TEXT NOT NULL,
        utc_offset_min INT NOT NULL,
        audio_sha256 TEXT,
        audio_name TEXT,
        duration_s REAL,
        instrument TEXT,
        string INT,
        fret INT,
        finger INT,
        technique TEXT,
        tempo_bpm REAL,
        cycles_per_beat INT,
        software TEXT NOT NULL,
        remark TEXT
    ) STRICT""",
    """CREATE TABLE note (
        take_id TEXT NOT NULL REFERENCES take ON DELETE CASCADE,
        i INT NOT NULL,
        onset_s REAL NOT NULL,
        offset_s REAL NOT NULL,
        home_hz REAL,
        home_error_cents REAL,
        home_place TEXT,
        home_source TEXT,
        PRIMARY KEY (take_id, i)
    ) STRICT, WITHOUT ROWID""",
    """CREATE TABLE turn (
        take_id TEXT NOT NULL REFERENCES take ON DELETE CASCADE,
        i INT NOT NULL,
        note INT NOT NULL,
        time_s REAL NOT NULL,
        hz REAL NOT NULL,
        error_cents REAL NOT NULL,
        PRIMARY KEY (take_id, i)
    ) STRICT, WITHOUT ROWID""",
    """CREATE TABLE measure (
        take_id TEXT NOT NULL REFERENCES take ON DELETE CASCADE,
        note INT NOT NULL,
        name TEXT NOT NULL,
        value REAL NOT NULL,
        spread REAL,
        error REAL,
        unit TEXT NOT NULL,
        n INT NOT NULL,
        PRIMARY KEY (take_id, note, name)
    ) STRICT, WITHOUT ROWID""",
    """CREATE TABLE finding (
        take_id TEXT NOT NULL REFERENCES take ON DELETE CASCADE,
        place INT NOT NULL,
        kind TEXT NOT NULL,
        verdict TEXT NOT NULL,
        teacher_says TEXT,
        PRIMARY KEY (take_id, place)
    ) STRICT, WITHOUT ROWID""",
    """CREATE TABLE task (
        task_id TEXT PRIMARY KEY,
        player_id TEXT NOT NULL REFERENCES player ON DELETE CASCADE,
        kind TEXT NOT NULL,
        tempo_bpm REAL,
        cycles_per_beat INT,
        set_utc TEXT NOT NULL,
        due_utc TEXT
    ) STRICT""",
    "CREATE INDEX take_by_player ON take (player_id, recorded_utc)",
    f"PRAGMA application_id = {APPLICATION_ID}",
)

# What the ladder, the teacher's page and the way back from the log need.
_TEACHER = (
    "ALTER TABLE player ADD COLUMN instrument TEXT NOT NULL DEFAULT ''",
    "ALTER TABLE player ADD COLUMN strings TEXT NOT NULL DEFAULT ''",
    "ALTER TABLE player ADD COLUMN target_take TEXT",
    "ALTER TABLE take ADD COLUMN exercise TEXT",
    "ALTER TABLE take ADD COLUMN home_asked TEXT",
    "ALTER TABLE take ADD COLUMN home_hz REAL",
    "ALTER TABLE take ADD COLUMN beat_origin_s REAL",
    "ALTER TABLE turn ADD COLUMN kind TEXT",
    """UPDATE turn SET kind = CASE WHEN hz > coalesce(
            (SELECT hz FROM turn AS next WHERE next.take_id = turn.take_id
                AND next.note = turn.note AND next.i = turn.i + 1),
            (SELECT hz FROM turn AS last WHERE last.take_id = turn.take_id
                AND last.note = turn.note AND last.i = turn.i - 1))
        THEN 'high' ELSE 'low' END""",
    "ALTER TABLE finding ADD COLUMN sentence TEXT NOT NULL DEFAULT ''",
    "ALTER TABLE finding ADD COLUMN evidence TEXT NOT NULL DEFAULT ''",
    "ALTER TABLE task ADD COLUMN words TEXT NOT NULL DEFAULT ''",
    """CREATE TABLE plain_part (
        take_id TEXT NOT NULL REFERENCES take ON DELETE CASCADE,
        i INT NOT NULL,
        note INT NOT NULL,
        start_s REAL NOT NULL,
        end_s REAL NOT NULL,
        hz REAL NOT NULL,
        error_cents REAL NOT NULL,
        spread_cents REAL NOT NULL,
        PRIMARY KEY (take_id, i)
    ) STRICT, WITHOUT ROWID""",
    """CREATE TABLE stretch (
        take_id TEXT NOT NULL REFERENCES take ON DELETE CASCADE,
        i INT NOT NULL,
        start_s REAL NOT NULL,
        end_s REAL NOT NULL,
        cycles_per_beat REAL NOT NULL,
        named INT,
        rate_error_percent REAL,
        offset_s REAL NOT NULL,
        concentration REAL NOT NULL,
        origin TEXT NOT NULL,
        waves INT NOT NULL,
        PRIMARY KEY (take_id, i)
    ) STRICT, WITHOUT ROWID""",
    """CREATE TABLE remark (
        remark_id TEXT PRIMARY KEY,
        take_id TEXT NOT NULL REFERENCES take ON DELETE CASCADE,
        at_s REAL,
        wave INT,
        words TEXT NOT NULL,
        written_by TEXT NOT NULL,
        written_utc TEXT NOT NULL
    ) STRICT""",
    "CREATE INDEX remark_by_take ON remark (take_id)",
    "CREATE INDEX task_by_player ON task (player_id, set_utc)",
    "CREATE INDEX take_by_sound ON take (player_id, audio_sha256)",
    "CREATE UNIQUE INDEX player_by_nickname ON player (nickname)",
)

# So that what was forgotten does not come back with an old copy: bare random keys, nothing else.
_FORGETTING = (
    "CREATE TABLE forgotten (id TEXT PRIMARY KEY) STRICT",
    """CREATE TABLE other_id (
        id TEXT PRIMARY KEY,
        player_id TEXT NOT NULL REFERENCES player ON DELETE CASCADE
    ) STRICT""",
)

# Two players of one label could exist in the first schema; they are one player from then on.
_ONE_LABEL_ONE_PLAYER = (
    """CREATE TEMP TABLE first_of AS
        SELECT player_id, nickname,
            first_value(player_id) OVER (PARTITION BY nickname ORDER BY created_utc, player_id)
            AS kept
        FROM player""",
    """UPDATE take SET player_id =
        (SELECT kept FROM first_of WHERE first_of.player_id = take.player_id)""",
    """UPDATE task SET player_id =
        (SELECT kept FROM first_of WHERE first_of.player_id = task.player_id)""",
    "DELETE FROM player WHERE player_id NOT IN (SELECT kept FROM first_of)",
    "DROP TABLE first_of",
)

# Where a wave rests at home its top tells the time; 0 in takes kept before this was noted.
_RESTS = ("ALTER TABLE turn ADD COLUMN rest_s REAL NOT NULL DEFAULT 0",)

MIGRATIONS: tuple[tuple[str, ...], ...] = (
    _FIRST,
    _ONE_LABEL_ONE_PLAYER + _TEACHER,
    _FORGETTING,
    _RESTS,
)
NEWEST = len(MIGRATIONS)

# Tables in an order in which rows may be inserted: parents first.
TABLES = (
    "player",
    "take",
    "note",
    "turn",
    "plain_part",
    "stretch",
    "measure",
    "finding",
    "remark",
    "task",
)
# What belongs to the judgement of a take, and is written anew when it is judged again.
JUDGED = ("note", "turn", "plain_part", "stretch", "measure", "finding")
