/* SPDX-License-Identifier: Apache-2.0 */
#include "core/ledger/table.h"

/* Column names are those of the enums in small letters, but for the words that SQL keeps for
 * itself: from, to, end. */

#define TEXT(name)                                                                                 \
    {                                                                                              \
        name, COLUMN_TEXT                                                                          \
    }
#define INTEGER(name)                                                                              \
    {                                                                                              \
        name, COLUMN_INTEGER                                                                       \
    }
#define REAL(name)                                                                                 \
    {                                                                                              \
        name, COLUMN_REAL                                                                          \
    }

static const Column SETTING[] = {
    [SETTING_SUBJECT] = TEXT("subject"),    [SETTING_FIELD] = TEXT("field"),
    [SETTING_VALUE] = TEXT("value"),        [SETTING_WALL] = INTEGER("wall"),
    [SETTING_LOGICAL] = INTEGER("logical"), [SETTING_REPLICA] = TEXT("replica"),
    [SETTING_SEQ] = INTEGER("seq"),         [SETTING_BASE] = TEXT("base"),
};

static const Column SETTING_LOST[] = {
    [SETTING_LOST_SUBJECT] = TEXT("subject"),    [SETTING_LOST_FIELD] = TEXT("field"),
    [SETTING_LOST_REPLICA] = TEXT("replica"),    [SETTING_LOST_SEQ] = INTEGER("seq"),
    [SETTING_LOST_VALUE] = TEXT("value"),        [SETTING_LOST_WALL] = INTEGER("wall"),
    [SETTING_LOST_LOGICAL] = INTEGER("logical"), [SETTING_LOST_BASE] = TEXT("base"),
};

static const Column CONTACT[] = {
    [CONTACT_CLIENT] = TEXT("client"),
    [CONTACT_CHANNEL] = TEXT("channel"),
    [CONTACT_ADDRESS] = TEXT("address"),
    [CONTACT_CONSENT] = TEXT("consent"),
    [CONTACT_CONSENT_BY] = TEXT("consent_by"),
    [CONTACT_CONSENT_AT] = INTEGER("consent_at"),
    [CONTACT_WALL] = INTEGER("wall"),
    [CONTACT_LOGICAL] = INTEGER("logical"),
    [CONTACT_REPLICA] = TEXT("replica"),
    [CONTACT_C_WALL] = INTEGER("c_wall"),
    [CONTACT_C_LOGICAL] = INTEGER("c_logical"),
    [CONTACT_C_REPLICA] = TEXT("c_replica"),
    [CONTACT_SEQ] = INTEGER("seq"),
    [CONTACT_C_SEQ] = INTEGER("c_seq"),
};

static const Column BAR[] = {
    [BAR_ID] = TEXT("id"),
    [BAR_CLIENT] = TEXT("client"),
    [BAR_KIND] = TEXT("kind"),
    [BAR_AT] = INTEGER("at"),
    [BAR_UNTIL] = INTEGER("until"),
    [BAR_WHY] = TEXT("why"),
    [BAR_BY] = TEXT("by"),
    [BAR_CAUSE] = TEXT("cause"),
    [BAR_LIFTED_AT] = INTEGER("lifted_at"),
    [BAR_LIFTED_BY] = TEXT("lifted_by"),
    [BAR_LIFT] = TEXT("lift"),
};

static const Column SCREEN[] = {
    [SCREEN_ID] = TEXT("id"),
    [SCREEN_CLIENT] = TEXT("client"),
    [SCREEN_AT] = INTEGER("at"),
    [SCREEN_BY] = TEXT("by"),
    [SCREEN_FLOOR] = INTEGER("floor"),
    [SCREEN_CLEAR] = INTEGER("clear"),
    [SCREEN_FINDINGS] = TEXT("findings"),
};

static const Column PROGRAMME[] = {
    [PROGRAMME_HASH] = TEXT("hash"),
    [PROGRAMME_KEY] = TEXT("key"),
    [PROGRAMME_TEXT] = TEXT("text"),
};

static const Column SESSION[] = {
    [SESSION_ID] = TEXT("id"),
    [SESSION_CLIENT] = TEXT("client"),
    [SESSION_DATE] = TEXT("date"),
    [SESSION_SLOT] = INTEGER("slot"),
    [SESSION_LOCAL] = TEXT("local"),
    [SESSION_ZONE] = TEXT("zone"),
    [SESSION_UTC] = INTEGER("utc"),
    [SESSION_STAGE] = TEXT("stage"),
    [SESSION_PROGRAMME] = TEXT("programme"),
    [SESSION_MESSAGE] = TEXT("message"),
    [SESSION_ASKED_AT] = INTEGER("asked_at"),
    [SESSION_CLOSED] = TEXT("closed"),
    [SESSION_FAILED] = INTEGER("failed"),
    [SESSION_REPORT] = TEXT("report"),
    [SESSION_DONE] = TEXT("done"),
    [SESSION_R_WALL] = INTEGER("r_wall"),
    [SESSION_R_LOGICAL] = INTEGER("r_logical"),
    [SESSION_R_REPLICA] = TEXT("r_replica"),
    [SESSION_STATE] = TEXT("state"),
    [SESSION_R_SEQ] = INTEGER("r_seq"),
};

static const Column REPORT[] = {
    [REPORT_ID] = TEXT("id"),           [REPORT_CLIENT] = TEXT("client"),
    [REPORT_SESSION] = TEXT("session"), [REPORT_AT] = INTEGER("at"),
    [REPORT_DONE] = TEXT("done"),       [REPORT_INTENSITY] = REAL("intensity"),
    [REPORT_PAIN] = TEXT("pain"),       [REPORT_BY] = TEXT("by"),
    [REPORT_REPLY] = TEXT("reply"),     [REPORT_WORDS] = TEXT("words"),
};

static const Column MEASURE[] = {
    [MEASURE_ID] = TEXT("id"),
    [MEASURE_CLIENT] = TEXT("client"),
    [MEASURE_AT] = INTEGER("at"),
    [MEASURE_MOVEMENT] = TEXT("movement"),
    [MEASURE_SIDE] = TEXT("side"),
    [MEASURE_METHOD] = TEXT("method"),
    [MEASURE_VALUE] = REAL("value"),
    [MEASURE_UNIT] = TEXT("unit"),
    [MEASURE_LANDMARK] = TEXT("landmark"),
    [MEASURE_BY] = TEXT("by"),
    [MEASURE_BODY] = TEXT("body"),
};

static const Column REPLY[] = {
    [REPLY_ID] = TEXT("id"),
    [REPLY_GATEWAY] = TEXT("gateway"),
    [REPLY_GATEWAY_ID] = TEXT("gateway_id"),
    [REPLY_FINGERPRINT] = TEXT("fingerprint"),
    [REPLY_FROM] = TEXT("from_address"),
    [REPLY_CHANNEL] = TEXT("channel"),
    [REPLY_TEXT] = TEXT("text"),
    [REPLY_AT] = INTEGER("at"),
    [REPLY_ARRIVED] = INTEGER("arrived"),
    [REPLY_PROBLEM] = TEXT("problem"),
    [REPLY_CLIENT] = TEXT("client"),
    [REPLY_SESSION] = TEXT("session"),
    [REPLY_READING] = TEXT("reading"),
    [REPLY_STATE] = TEXT("state"),
    [REPLY_GLANCE] = INTEGER("glance"),
    [REPLY_WHY] = TEXT("why"),
    [REPLY_SETTLED_BY] = TEXT("settled_by"),
    [REPLY_R_WALL] = INTEGER("r_wall"),
    [REPLY_R_LOGICAL] = INTEGER("r_logical"),
    [REPLY_R_REPLICA] = TEXT("r_replica"),
    [REPLY_R_SEQ] = INTEGER("r_seq"),
    [REPLY_SEEN_BY] = TEXT("seen_by"),
    [REPLY_S_WALL] = INTEGER("s_wall"),
    [REPLY_S_LOGICAL] = INTEGER("s_logical"),
    [REPLY_S_REPLICA] = TEXT("s_replica"),
    [REPLY_S_SEQ] = INTEGER("s_seq"),
    [REPLY_S_CLIENT] = TEXT("s_client"),
    [REPLY_S_SESSION] = TEXT("s_session"),
    [REPLY_S_READING] = TEXT("s_reading"),
    [REPLY_R_CLIENT] = TEXT("r_client"),
    [REPLY_R_SESSION] = TEXT("r_session"),
    [REPLY_R_READING] = TEXT("r_reading"),
    [REPLY_R_STATE] = TEXT("r_state"),
    [REPLY_R_GLANCE] = INTEGER("r_glance"),
    [REPLY_ANSWERS] = TEXT("answers"),
    [REPLY_AUTOMATIC] = INTEGER("automatic"),
};

static const Column ALERT[] = {
    [ALERT_ID] = TEXT("id"),
    [ALERT_CODE] = TEXT("code"),
    [ALERT_CLIENT] = TEXT("client"),
    [ALERT_KIND] = TEXT("kind"),
    [ALERT_CLASS] = TEXT("class"),
    [ALERT_AT] = INTEGER("at"),
    [ALERT_REASONS] = TEXT("reasons"),
    [ALERT_CAUSE] = TEXT("cause"),
    [ALERT_STATE] = TEXT("state"),
    [ALERT_TAKEN_BY] = TEXT("taken_by"),
    [ALERT_TAKEN_AT] = INTEGER("taken_at"),
    [ALERT_CLOSED_BY] = TEXT("closed_by"),
    [ALERT_CLOSED_AT] = INTEGER("closed_at"),
    [ALERT_OUTCOME] = TEXT("outcome"),
    [ALERT_NOTE] = TEXT("note"),
    [ALERT_PASSED] = INTEGER("passed"),
    [ALERT_PASSED_AT] = INTEGER("passed_at"),
    [ALERT_OPENED] = INTEGER("opened"),
    [ALERT_TAKEN_VIA] = TEXT("taken_via"),
};

static const Column PASS[] = {
    [PASS_ID] = TEXT("id"),    [PASS_ALERT] = TEXT("alert"),    [PASS_TO] = TEXT("to_name"),
    [PASS_AT] = INTEGER("at"), [PASS_ROUND] = INTEGER("round"),
};

static const Column MESSAGE[] = {
    [MESSAGE_ID] = TEXT("id"),
    [MESSAGE_CLIENT] = TEXT("client"),
    [MESSAGE_TO] = TEXT("to_address"),
    [MESSAGE_CHANNEL] = TEXT("channel"),
    [MESSAGE_KIND] = TEXT("kind"),
    [MESSAGE_TEXT] = TEXT("text"),
    [MESSAGE_SUBJECT] = TEXT("subject"),
    [MESSAGE_AT] = INTEGER("at"),
    [MESSAGE_SESSION] = TEXT("session"),
    [MESSAGE_FOR_ALERT] = TEXT("alert"),
    [MESSAGE_FATE] = TEXT("fate"),
    [MESSAGE_FATE_AT] = INTEGER("fate_at"),
    [MESSAGE_GATEWAY] = TEXT("gateway"),
    [MESSAGE_GATEWAY_ID] = TEXT("gateway_id"),
    [MESSAGE_SEGMENTS] = INTEGER("segments"),
    [MESSAGE_PRICE] = REAL("price"),
    [MESSAGE_REASON] = TEXT("reason"),
    [MESSAGE_WALL] = INTEGER("wall"),
    [MESSAGE_LOGICAL] = INTEGER("logical"),
    [MESSAGE_REPLICA] = TEXT("replica"),
    [MESSAGE_SEQ] = INTEGER("seq"),
};

static const Column REPLICA[] = {
    [REPLICA_ID] = TEXT("id"),
    [REPLICA_NAME] = TEXT("name"),
    [REPLICA_JOINED] = INTEGER("joined"),
    [REPLICA_CUT] = INTEGER("cut"),
};

static const Column AWAY[] = {
    [AWAY_ID] = TEXT("id"),
    [AWAY_FROM] = INTEGER("from_ms"),
    [AWAY_TO] = INTEGER("to_ms"),
    [AWAY_WHY] = TEXT("why"),
};

static const Column DIGEST[] = {
    [DIGEST_WEEK] = TEXT("week"),
    [DIGEST_AT] = INTEGER("at"),
};

static const Column ERASED[] = {
    [ERASED_SUBJECT] = TEXT("subject"),
    [ERASED_CLIENT] = TEXT("client"),
};

static const Column BOUNDED[] = {
    [BOUNDED_ID] = TEXT("id"),          [BOUNDED_REPLICA] = TEXT("replica"),
    [BOUNDED_FIRST] = INTEGER("first"), [BOUNDED_LAST] = INTEGER("last"),
    [BOUNDED_WALL] = INTEGER("wall"),
};

static const Column SAME[] = {
    [SAME_ID] = TEXT("id"), [SAME_CLIENT] = TEXT("client"), [SAME_OF] = TEXT("same_as"),
    [SAME_BY] = TEXT("by"), [SAME_AT] = INTEGER("at"),
};

static const Column OUTBOX[] = {
    [OUTBOX_ID] = TEXT("id"),
    [OUTBOX_CLIENT] = TEXT("client"),
    [OUTBOX_TO] = TEXT("to_address"),
    [OUTBOX_CHANNEL] = TEXT("channel"),
    [OUTBOX_KIND] = TEXT("kind"),
    [OUTBOX_RANK] = INTEGER("rank"),
    [OUTBOX_TEXT] = TEXT("text"),
    [OUTBOX_SUBJECT] = TEXT("subject"),
    [OUTBOX_HTML] = TEXT("html"),
    [OUTBOX_SESSION] = TEXT("session"),
    [OUTBOX_ALERT] = TEXT("alert"),
    [OUTBOX_AT] = INTEGER("at"),
    [OUTBOX_END] = INTEGER("end_at"),
    [OUTBOX_STATE] = TEXT("state"),
    [OUTBOX_ATTEMPTS] = INTEGER("attempts"),
    [OUTBOX_NEXT_AT] = INTEGER("next_at"),
    [OUTBOX_WROTE_AT] = INTEGER("wrote_at"),
    [OUTBOX_GATEWAY] = TEXT("gateway"),
    [OUTBOX_REASON] = TEXT("reason"),
    [OUTBOX_REASONS] = TEXT("reasons"),
    [OUTBOX_BOUND] = TEXT("bound"),
};

static const Column DUE[] = {
    [DUE_KIND] = TEXT("kind"),     [DUE_KEY] = TEXT("key"),   [DUE_AT] = INTEGER("at"),
    [DUE_CLIENT] = TEXT("client"), [DUE_BODY] = TEXT("body"),
};

static const Column CARD[] = {
    [CARD_CLIENT] = TEXT("client"),
    [CARD_TEXT] = TEXT("text"),
};

static const Column CURSOR[] = {
    [CURSOR_GATEWAY] = TEXT("gateway"),
    [CURSOR_VALUE] = TEXT("value"),
};

static const Column CODE[] = {
    [CODE_ALERT] = TEXT("alert"),        [CODE_PERSON] = TEXT("person"),
    [CODE_NUMBER] = TEXT("number"),      [CODE_CODE] = TEXT("code"),
    [CODE_USED_AT] = INTEGER("used_at"),
};

static const Column WRONG_CODE[] = {
    [WRONG_CODE_REPLY] = TEXT("reply"),
    [WRONG_CODE_NUMBER] = TEXT("number"),
    [WRONG_CODE_AT] = INTEGER("at"),
};

static const Column RECEIPT[] = {
    [RECEIPT_GATEWAY] = TEXT("gateway"),
    [RECEIPT_GATEWAY_ID] = TEXT("gateway_id"),
    [RECEIPT_FATE] = TEXT("fate"),
    [RECEIPT_AT] = INTEGER("at"),
};

static const Column ACCOUNT[] = {
    [ACCOUNT_KEY] = TEXT("key"),
    [ACCOUNT_NAME] = TEXT("name"),
    [ACCOUNT_ROLE] = TEXT("role"),
    [ACCOUNT_PASSWORD] = TEXT("password"),
    [ACCOUNT_INVITE] = TEXT("invite"),
    [ACCOUNT_INVITE_END] = INTEGER("invite_end"),
    [ACCOUNT_MADE_AT] = INTEGER("made_at"),
    [ACCOUNT_CLOSED_AT] = INTEGER("closed_at"),
};

static const Column LOOK[] = {
    [LOOK_NUMBER] = INTEGER("number"), [LOOK_AT] = INTEGER("at"),
    [LOOK_BY] = TEXT("by_name"),       [LOOK_CLIENT] = TEXT("client"),
    [LOOK_CHANGE] = INTEGER("change"), [LOOK_WHAT] = TEXT("what"),
};

static const Column PEER[] = {
    [PEER_ID] = TEXT("id"),
    [PEER_NAME] = TEXT("name"),
    [PEER_ADDRESS] = TEXT("address"),
    [PEER_PIN] = TEXT("pin"),
    [PEER_SIGN_KEY] = TEXT("sign_key"),
    [PEER_SEAL_KEY] = TEXT("seal_key"),
    [PEER_PAIRED_AT] = INTEGER("paired_at"),
    [PEER_CUT_AT] = INTEGER("cut_at"),
    [PEER_LAST_AT] = INTEGER("last_at"),
    [PEER_PROBLEM] = TEXT("problem"),
    [PEER_VECTOR] = TEXT("vector"),
    [PEER_CLOCK_MS] = INTEGER("clock_ms"),
    [PEER_COUNTER] = INTEGER("counter"),
};

static const Column META[] = {
    [META_KEY] = TEXT("key"),
    [META_VALUE] = TEXT("value"),
};

#define INDEXES(...)                                                                               \
    (const char *const[])                                                                          \
    {                                                                                              \
        __VA_ARGS__, NULL                                                                          \
    }
#define NO_INDEXES                                                                                 \
    (const char *const[])                                                                          \
    {                                                                                              \
        NULL                                                                                       \
    }
#define DERIVED(n, k, c, i)                                                                        \
    {                                                                                              \
        .name = n, .local = false, .keys = k, .columns = G_N_ELEMENTS(c), .column = c,             \
        .indexes = i                                                                               \
    }
#define DERIVED_LONG(n, k, c, i)                                                                   \
    {                                                                                              \
        .name = n, .local = false, .long_rows = true, .keys = k, .columns = G_N_ELEMENTS(c),       \
        .column = c, .indexes = i                                                                  \
    }
#define LOCAL_LONG(n, k, c, i)                                                                     \
    {                                                                                              \
        .name = n, .local = true, .long_rows = true, .keys = k, .columns = G_N_ELEMENTS(c),        \
        .column = c, .indexes = i                                                                  \
    }
#define LOCAL(n, k, c, i)                                                                          \
    {                                                                                              \
        .name = n, .local = true, .keys = k, .columns = G_N_ELEMENTS(c), .column = c, .indexes = i \
    }

static const Table TABLES[TABLE_COUNT] = {
    [TABLE_SETTING] = DERIVED("setting", 2, SETTING, INDEXES("field, value")),
    [TABLE_SETTING_LOST] = DERIVED("setting_lost", 4, SETTING_LOST, NO_INDEXES),
    [TABLE_CONTACT] = DERIVED("contact", 2, CONTACT, INDEXES("address")),
    [TABLE_BAR] = DERIVED("bar", 1, BAR, INDEXES("client")),
    [TABLE_SCREEN] = DERIVED("screen", 1, SCREEN, INDEXES("client, at")),
    [TABLE_PROGRAMME] = DERIVED("programme", 1, PROGRAMME, INDEXES("key")),
    [TABLE_SESSION] = DERIVED_LONG("session", 1, SESSION, INDEXES("client, date, slot", "utc")),
    [TABLE_REPORT] = DERIVED_LONG("report", 1, REPORT, INDEXES("client, at", "session")),
    [TABLE_MEASURE] = DERIVED("measure", 1, MEASURE, INDEXES("client, at")),
    [TABLE_REPLY] = DERIVED_LONG("reply", 1, REPLY,
                                 INDEXES("gateway, gateway_id", "fingerprint", "client, at",
                                         "arrived", "state, arrived", "glance where glance = 1")),
    [TABLE_ALERT] = DERIVED("alert", 1, ALERT, INDEXES("client, at", "state, at", "code")),
    [TABLE_PASS] = DERIVED("pass", 1, PASS, INDEXES("alert, at")),
    [TABLE_MESSAGE] =
        DERIVED_LONG("message", 1, MESSAGE, INDEXES("client, at", "at", "gateway, gateway_id")),
    [TABLE_REPLICA] = DERIVED("replica", 1, REPLICA, NO_INDEXES),
    [TABLE_AWAY] = DERIVED("away", 1, AWAY, INDEXES("from_ms")),
    [TABLE_DIGEST] = DERIVED("digest", 1, DIGEST, NO_INDEXES),
    [TABLE_ERASED] = DERIVED("erased", 1, ERASED, INDEXES("client")),
    [TABLE_BOUNDED] = DERIVED("bounded", 1, BOUNDED, NO_INDEXES),
    [TABLE_SAME] = DERIVED("same", 1, SAME, NO_INDEXES),
    [TABLE_PEER] = LOCAL("peer", 1, PEER, NO_INDEXES),
    [TABLE_OUTBOX] = LOCAL_LONG("outbox", 1, OUTBOX,
                                INDEXES("channel, rank, next_at where state = 'waiting'",
                                        "client, at", "alert where alert IS NOT NULL")),
    [TABLE_DUE] = LOCAL("due", 2, DUE, INDEXES("at")),
    [TABLE_CARD] = LOCAL("card", 1, CARD, NO_INDEXES),
    [TABLE_CURSOR] = LOCAL("cursor", 1, CURSOR, NO_INDEXES),
    [TABLE_CODE] = LOCAL("code", 2, CODE, INDEXES("code")),
    [TABLE_WRONG_CODE] = LOCAL("wrong_code", 1, WRONG_CODE, INDEXES("number, at")),
    [TABLE_RECEIPT] = LOCAL("receipt", 2, RECEIPT, INDEXES("at")),
    [TABLE_ACCOUNT] = LOCAL("account", 1, ACCOUNT, NO_INDEXES),
    [TABLE_LOOK] = LOCAL("look", 1, LOOK, INDEXES("client, at", "at")),
    [TABLE_META] = LOCAL("meta", 1, META, NO_INDEXES),
};

const Table *table_of(TableId id)
{
    g_assert((unsigned)id < TABLE_COUNT);
    return &TABLES[id];
}
