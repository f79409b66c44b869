/* SPDX-License-Identifier: Apache-2.0 */
/* The tables, declared once: the fold fills the derived ones from events, the store makes them in SQL, tests keep them in
 * memory. A row is a list of values in the order of the columns; the first columns are the key. */
#ifndef OSIER_CORE_LEDGER_TABLE_H
#define OSIER_CORE_LEDGER_TABLE_H

#include <glib.h>
#include <stdbool.h>
#include <stdint.h>

typedef enum {
    /* derived: a pure fold of the ledger */
    TABLE_SETTING,
    TABLE_SETTING_LOST,
    TABLE_CONTACT,
    TABLE_BAR,
    TABLE_SCREEN,
    TABLE_PROGRAMME,
    TABLE_SESSION,
    TABLE_REPORT,
    TABLE_MEASURE,
    TABLE_REPLY,
    TABLE_ALERT,
    TABLE_MESSAGE,
    TABLE_REPLICA,
    TABLE_AWAY,
    TABLE_DIGEST,
    TABLE_PASS,
    TABLE_ERASED,
    TABLE_BOUNDED,
    TABLE_SAME,
    /* local: neither synced nor rebuilt */
    TABLE_OUTBOX,
    TABLE_DUE,
    TABLE_CARD,
    TABLE_CURSOR,
    TABLE_CODE,
    TABLE_WRONG_CODE,
    TABLE_RECEIPT,
    TABLE_ACCOUNT,
    TABLE_LOOK,
    TABLE_PEER,
    TABLE_META,
    TABLE_COUNT
} TableId;

typedef enum { COLUMN_TEXT, COLUMN_INTEGER, COLUMN_REAL } ColumnType;

typedef struct {
    const char *name;
    ColumnType type;
} Column;

typedef struct {
    const char *name;
    bool local;
    bool long_rows; /* kept in the order of their making, the key beside them as an index */
    int keys;       /* the first so many columns are the key, never null */
    int columns;
    const Column *column;
    const char *const *indexes; /* "client, date" ..., NULL-ended */
} Table;

const Table *table_of(TableId id);

/* A register: one field of one subject; the winner by (wall, logical, replica). value is JSON, or null once cleared. */
enum {
    SETTING_SUBJECT,
    SETTING_FIELD,
    SETTING_VALUE,
    SETTING_WALL,
    SETTING_LOGICAL,
    SETTING_REPLICA,
    SETTING_SEQ,
    SETTING_BASE
};
/* Every value that lost, kept to tell conflicts. */
enum {
    SETTING_LOST_SUBJECT,
    SETTING_LOST_FIELD,
    SETTING_LOST_REPLICA,
    SETTING_LOST_SEQ,
    SETTING_LOST_VALUE,
    SETTING_LOST_WALL,
    SETTING_LOST_LOGICAL,
    SETTING_LOST_BASE
};
/* An address of a client, and the consent to use it. address follows the settings phone and email. */
enum {
    CONTACT_CLIENT,
    CONTACT_CHANNEL,
    CONTACT_ADDRESS,
    CONTACT_CONSENT,
    CONTACT_CONSENT_BY,
    CONTACT_CONSENT_AT,
    CONTACT_WALL,
    CONTACT_LOGICAL,
    CONTACT_REPLICA,
    CONTACT_C_WALL,
    CONTACT_C_LOGICAL,
    CONTACT_C_REPLICA,
    CONTACT_SEQ,
    CONTACT_C_SEQ
};
/* What keeps messages from a client: kind is stop, pause, hold, suspend or end. It ends only by an event that names it.
 * kind and client are null while only the lifting event is here. */
enum {
    BAR_ID,
    BAR_CLIENT,
    BAR_KIND,
    BAR_AT,
    BAR_UNTIL,
    BAR_WHY,
    BAR_BY,
    BAR_CAUSE,
    BAR_LIFTED_AT,
    BAR_LIFTED_BY,
    BAR_LIFT
};
enum {
    SCREEN_ID,
    SCREEN_CLIENT,
    SCREEN_AT,
    SCREEN_BY,
    SCREEN_FLOOR,
    SCREEN_CLEAR,
    SCREEN_FINDINGS
};
enum { PROGRAMME_HASH, PROGRAMME_KEY, PROGRAMME_TEXT };
/* state is the outcome by precedence: report, excused, failed, silent, unasked, asked. closed is a set of letters e s u. */
enum {
    SESSION_ID,
    SESSION_CLIENT,
    SESSION_DATE,
    SESSION_SLOT,
    SESSION_LOCAL,
    SESSION_ZONE,
    SESSION_UTC,
    SESSION_STAGE,
    SESSION_PROGRAMME,
    SESSION_MESSAGE,
    SESSION_ASKED_AT,
    SESSION_CLOSED,
    SESSION_FAILED,
    SESSION_REPORT,
    SESSION_DONE,
    SESSION_R_WALL,
    SESSION_R_LOGICAL,
    SESSION_R_REPLICA,
    SESSION_STATE,
    SESSION_R_SEQ
};
/* pain is "0".."10", "some" or null. */
enum {
    REPORT_ID,
    REPORT_CLIENT,
    REPORT_SESSION,
    REPORT_AT,
    REPORT_DONE,
    REPORT_INTENSITY,
    REPORT_PAIN,
    REPORT_BY,
    REPORT_REPLY,
    REPORT_WORDS
};
enum {
    MEASURE_ID,
    MEASURE_CLIENT,
    MEASURE_AT,
    MEASURE_MOVEMENT,
    MEASURE_SIDE,
    MEASURE_METHOD,
    MEASURE_VALUE,
    MEASURE_UNIT,
    MEASURE_LANDMARK,
    MEASURE_BY,
    MEASURE_BODY
};
/* state: received, read, unread, settled, command. glance: 1 while a person should see it once. answers: the id of the
 * message that a mail says it answers. automatic: 1 where no person wrote it. */
enum {
    REPLY_ID,
    REPLY_GATEWAY,
    REPLY_GATEWAY_ID,
    REPLY_FINGERPRINT,
    REPLY_FROM,
    REPLY_CHANNEL,
    REPLY_TEXT,
    REPLY_AT,
    REPLY_ARRIVED,
    REPLY_PROBLEM,
    REPLY_CLIENT,
    REPLY_SESSION,
    REPLY_READING,
    REPLY_STATE,
    REPLY_GLANCE,
    REPLY_WHY,
    REPLY_SETTLED_BY,
    REPLY_R_WALL,
    REPLY_R_LOGICAL,
    REPLY_R_REPLICA,
    /* for the fold: the latest reading and the latest settling apart, of which the columns above are the sum */
    REPLY_R_SEQ,
    REPLY_SEEN_BY,
    REPLY_S_WALL,
    REPLY_S_LOGICAL,
    REPLY_S_REPLICA,
    REPLY_S_SEQ,
    REPLY_S_CLIENT,
    REPLY_S_SESSION,
    REPLY_S_READING,
    REPLY_R_CLIENT,
    REPLY_R_SESSION,
    REPLY_R_READING,
    REPLY_R_STATE,
    REPLY_R_GLANCE,
    REPLY_ANSWERS,
    REPLY_AUTOMATIC
};
/* state: open, taken, closed (by precedence, the last highest). reasons is JSON. passed counts alert.passed events.
 * opened is 1 once alert.opened is here: other events of an alert may come first. */
enum {
    ALERT_ID,
    ALERT_CODE,
    ALERT_CLIENT,
    ALERT_KIND,
    ALERT_CLASS,
    ALERT_AT,
    ALERT_REASONS,
    ALERT_CAUSE,
    ALERT_STATE,
    ALERT_TAKEN_BY,
    ALERT_TAKEN_AT,
    ALERT_CLOSED_BY,
    ALERT_CLOSED_AT,
    ALERT_OUTCOME,
    ALERT_NOTE,
    ALERT_PASSED,
    ALERT_PASSED_AT,
    ALERT_OPENED,
    ALERT_TAKEN_VIA
};
/* Each time that an alert was passed to the next person. */
enum { PASS_ID, PASS_ALERT, PASS_TO, PASS_AT, PASS_ROUND };
enum {
    MESSAGE_ID,
    MESSAGE_CLIENT,
    MESSAGE_TO,
    MESSAGE_CHANNEL,
    MESSAGE_KIND,
    MESSAGE_TEXT,
    MESSAGE_SUBJECT,
    MESSAGE_AT,
    MESSAGE_SESSION,
    MESSAGE_FOR_ALERT,
    MESSAGE_FATE,
    MESSAGE_FATE_AT,
    MESSAGE_GATEWAY,
    MESSAGE_GATEWAY_ID,
    MESSAGE_SEGMENTS,
    MESSAGE_PRICE,
    MESSAGE_REASON,
    MESSAGE_WALL,
    MESSAGE_LOGICAL,
    MESSAGE_REPLICA,
    MESSAGE_SEQ
};
enum { REPLICA_ID, REPLICA_NAME, REPLICA_JOINED, REPLICA_CUT };
/* When osier was not listening: from_ms, to_ms in SQL. */
enum { AWAY_ID, AWAY_FROM, AWAY_TO, AWAY_WHY };
enum { DIGEST_WEEK, DIGEST_AT };
/* What an erasure takes the words from: the client, and the replies, alerts and single events that concern the client. A
 * subject "number KEY HASH" is the keyed hash of an address that nobody writes to again. */
enum { ERASED_SUBJECT, ERASED_CLIENT };
/* Events with an impossible stamp: those of replica from first to last count as of wall at the latest. The key is the event
 * that says so. */
enum { BOUNDED_ID, BOUNDED_REPLICA, BOUNDED_FIRST, BOUNDED_LAST, BOUNDED_WALL };
/* Two ids of one client. The key is the event that says so. */
enum { SAME_ID, SAME_CLIENT, SAME_OF, SAME_BY, SAME_AT };

/* rank: 0 safety and alerts, 1 answers, 2 reminders, 3 mail nobody waits for. state is a fate's name. */
enum {
    OUTBOX_ID,
    OUTBOX_CLIENT,
    OUTBOX_TO,
    OUTBOX_CHANNEL,
    OUTBOX_KIND,
    OUTBOX_RANK,
    OUTBOX_TEXT,
    OUTBOX_SUBJECT,
    OUTBOX_HTML,
    OUTBOX_SESSION,
    OUTBOX_ALERT,
    OUTBOX_AT,
    OUTBOX_END,
    OUTBOX_STATE,
    OUTBOX_ATTEMPTS,
    OUTBOX_NEXT_AT,
    OUTBOX_WROTE_AT,
    OUTBOX_GATEWAY,
    OUTBOX_REASON,
    OUTBOX_REASONS,
    OUTBOX_BOUND /* the gateway that may hold it already, of which only that gateway can tell or drop a second one; or null */
};
#define OUTBOX_RANK_LAST 3
/* One thing to do at an instant. kind: session, nudge, silent, alert, taken, digest, unread ... key: what it concerns. */
enum { DUE_KIND, DUE_KEY, DUE_AT, DUE_CLIENT, DUE_BODY };
/* A copy of a client's settings, contacts and bars in one text: see the store's card.h. */
enum { CARD_CLIENT, CARD_TEXT };
enum { CURSOR_GATEWAY, CURSOR_VALUE };
/* One-time codes that let a clinician take an alert by text. */
enum { CODE_ALERT, CODE_PERSON, CODE_NUMBER, CODE_CODE, CODE_USED_AT };
/* Each code that came from a number on the duty list and was not sent to it. The key is the reply's id and the place of the
 * code in it. */
enum { WRONG_CODE_REPLY, WRONG_CODE_NUMBER, WRONG_CODE_AT };
/* A receipt that came before the answer to its message was recorded: it waits for it. */
enum { RECEIPT_GATEWAY, RECEIPT_GATEWAY_ID, RECEIPT_FATE, RECEIPT_AT };
/* Who may enter the page. key is the name as it is compared; role is clinician or desk; password and invite are hashes, null
 * while there is none. closed_at is set once the account is closed: it never opens again. */
enum {
    ACCOUNT_KEY,
    ACCOUNT_NAME,
    ACCOUNT_ROLE,
    ACCOUNT_PASSWORD,
    ACCOUNT_INVITE,
    ACCOUNT_INVITE_END,
    ACCOUNT_MADE_AT,
    ACCOUNT_CLOSED_AT
};
/* Each look at a client and each change, by whom. client is null where several were shown or nobody is meant. */
enum { LOOK_NUMBER, LOOK_AT, LOOK_BY, LOOK_CLIENT, LOOK_CHANGE, LOOK_WHAT };
/* Another replica of the clinic that this one was paired with, its keys, and how the last visit ended. */
enum {
    PEER_ID,
    PEER_NAME,
    PEER_ADDRESS,  /* "host:port" where it listens, or null: it calls */
    PEER_PIN,      /* of its TLS key */
    PEER_SIGN_KEY, /* that it signs with */
    PEER_SEAL_KEY, /* that bundles are sealed to */
    PEER_PAIRED_AT,
    PEER_CUT_AT,   /* null while it may call and be called */
    PEER_LAST_AT,  /* of the last visit that went through */
    PEER_PROBLEM,  /* of the last one that did not, or null */
    PEER_VECTOR,   /* JSON: what it had then */
    PEER_CLOCK_MS, /* how far its clock was ahead of ours then */
    PEER_COUNTER   /* the greatest number of a request from it */
};
enum { META_KEY, META_VALUE };

/* A row. Values are null until set. */
typedef struct Row Row;

Row *row_new(TableId table);
Row *row_copy(const Row *row);
void row_free(Row *row);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(Row, row_free)

TableId row_table(const Row *row);
bool row_is_null(const Row *row, int column);
const char *row_text(const Row *row, int column); /* NULL where null; lives as long as the value */
int64_t row_int(const Row *row, int column);      /* 0 where null */
double row_real(const Row *row, int column);
void row_set_text(Row *row, int column, const char *text); /* copied; NULL sets null */
void row_set_int(Row *row, int column, int64_t value);
void row_set_real(Row *row, int column, double value);
void row_set_null(Row *row, int column);

#endif
