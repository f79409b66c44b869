/* SPDX-License-Identifier: Apache-2.0 */
/* The clinic's settings, as read from its file. Plain values; durations in milliseconds, times of day in seconds. */
#ifndef OSIER_CORE_CLINIC_CLINIC_H
#define OSIER_CORE_CLINIC_CLINIC_H

#include "core/calendar/quiet.h"
#include "core/clinic/fault.h"

/* Opening hours of one weekday, seconds of the local day; open == close: closed all day. */
typedef struct {
    int32_t open;
    int32_t close;
} OpenHours;

typedef struct {
    Day from;
    Day to; /* inclusive */
} DaySpan;

/* Someone who is called. */
typedef struct {
    char *name;
    char *sms;        /* E.164 or NULL */
    char *email;      /* or NULL */
    GArray *away;     /* of DaySpan */
    int64_t after_ms; /* how long after the one before is called; default 15min */
} DutyPerson;

typedef enum { GATEWAY_HTTP_SMS, GATEWAY_MAIL, GATEWAY_SPOOL, GATEWAY_PROGRAM } GatewayKind;
typedef enum {
    SIGNATURE_NONE,
    SIGNATURE_STANDARD,
    SIGNATURE_HMAC,
    SIGNATURE_TOKEN
} SignatureScheme;

typedef struct {
    SignatureScheme scheme;
    GPtrArray *secrets; /* templates "{secret:NAME}", one or several during a change-over */
    char *header;
    bool base64;  /* else hex */
    char *prefix; /* "" where none */
} Signature;

/* How a text message is sent: templates with {to} {text} {id} {from} {secret:NAME}, each replaced once. */
typedef struct {
    char *url;
    char *method;
    json_t *headers;         /* object of text, or NULL */
    json_t *form;            /* object of text, or NULL */
    json_t *json;            /* any value, or NULL */
    json_t *query;           /* object of text, or NULL */
    GArray *accepted_status; /* of int */
    char *accepted_id;       /* JSON Pointer or NULL */
    GArray *refused_status;
    char *refused_reason; /* JSON Pointer or NULL */
} SendMapping;

/* How a gateway is asked whether it has a message of ours: where its id stands in the answer, and what says that it has
 * none. */
typedef struct {
    char *url; /* template with {id} */
    json_t *headers;
    char *id;            /* JSON Pointer; nothing there: it has none */
    GArray *none_status; /* of int */
} AskMapping;

/* Where fields stand in an answer: JSON Pointers. NULL where not given. */
typedef struct {
    char *url; /* template with {cursor} */
    json_t *headers;
    int64_t every_ms;
    char *items;
    char *id;
    char *from;
    char *text;
    char *at;
    char *cursor;
} PollMapping;

typedef struct {
    char *path;
    char *id;
    char *from;
    char *text;
    char *at;
    Signature signature;
} WebhookMapping;

typedef struct {
    char *path; /* NULL: no receipts by webhook */
    char *id;
    char *status;
    GPtrArray *delivered; /* of text */
    GPtrArray *failed;
    Signature signature;
    PollMapping
        *poll; /* or NULL: none are asked for. Its id is the gateway's id, its text the status */
    GPtrArray *poll_delivered; /* of text, or NULL */
    GPtrArray *poll_failed;
    int64_t within_ms; /* an accepted message without a receipt for so long is shown as such */
} ReceiptMapping;

typedef struct {
    char *url;
    char *user;
    char *password;   /* template */
    int64_t every_ms; /* imap */
} MailServer;

typedef struct {
    char *name;
    GatewayKind kind;
    double rate;     /* messages a second; 0: no limit */
    int concurrency; /* exchanges at once, 1 to 64 */
    double price;    /* a segment, in the clinic's currency; 0: none given */
    bool takes_key;
    GPtrArray *countries; /* country codes (of digits) that it serves; empty: every number */
    SendMapping send;
    AskMapping *ask;          /* or NULL */
    GPtrArray *command;       /* program: its words, NULL-ended; else NULL */
    int64_t answer_ms;        /* http-sms, program: how long it may take over a message */
    bool can_be_asked;        /* program: it tells of a message by our id */
    PollMapping *poll;        /* or NULL */
    WebhookMapping *webhook;  /* or NULL */
    ReceiptMapping *receipts; /* or NULL */
    char *from;               /* http-sms: what {from} stands for, or NULL */
    char *mail_from;          /* mail: "Name <address>" */
    MailServer *smtp;         /* or NULL */
    MailServer *imap;         /* or NULL */
} Gateway;

typedef struct {
    char *name;
    char *zone; /* known to the zone database: checked by the file room */
    char *language;
    char *phone;
    char *after_hours_phone; /* or NULL: the clinic's own phone */
    char *emergency;
    char *crisis;       /* or NULL: the emergency number */
    char *country_code; /* digits, or NULL: national numbers are not read */
    OpenHours hours[8]; /* by ISO weekday, 1 to 7 */
    GArray *closed;     /* of DaySpan */
    Quiet quiet;
    int digest_weekday; /* 1 to 7 */
    int32_t digest_second;
    GPtrArray *digest_to; /* of mail addresses */
    GPtrArray *duty;      /* of DutyPerson */
    int64_t again_ms;
    int pain_now;
    int pain_today;
    int missed_run;
    int intensity_high;
    int per_day_max;
    int64_t reminder_ends_ms;
    int64_t nudge_after_ms; /* 0: no nudge */
    int64_t silent_after_ms;
    int consent_silence_days; /* without a word, and consent is asked for anew; 0: never */
    int keep_records_years;   /* after the last word about a client; 0: no such time */
    int keep_words_years;     /* of replies and digests; 0: as long as the record */
    int keep_looks_years;     /* at the record, by the page; 0: for good */
    int32_t backup_second;    /* of the clinic's day; -1: no copy at night */
    int backup_keep;          /* so many copies are kept */
    char *backup_key;         /* what they are sealed to, or NULL */
    char *page_listen;        /* "127.0.0.1:8750" */
    char *page_url;           /* where the page is reached from outside, or NULL */
    int64_t page_idle_ms;     /* without a person's doing, the page logs out */
    char *hooks_listen;       /* or NULL */
    char *sync_listen;        /* where other replicas call, or NULL: this one calls them */
    char *sync_name;          /* what people call this replica, or NULL: the machine's name */
    int64_t sync_every_ms;    /* between two visits where nothing happens */
    /* the store is in a PostgreSQL database: its connection string; NULL: a file of its own */
    char *store_connect;
    char *store_schema;   /* the clinic's schema there */
    char *store_password; /* template, or NULL */
    GPtrArray *gateways;  /* of Gateway, in the order of the file */
} Clinic;

/* Reads the settings; adds every fault found, unknown keys among them. NULL where there are any. */
Clinic *clinic_read(json_t *tree, Faults *faults);
void clinic_free(Clinic *clinic);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(Clinic, clinic_free)

/* The gateway of that name, or NULL. */
const Gateway *clinic_gateway(const Clinic *clinic, const char *name);

/* Is there anybody of exactly that name on the duty list? */
bool duty_lists(const Clinic *clinic, const char *name);

/* Is the clinic open at a local time of its own zone? */
bool clinic_open(const Clinic *clinic, LocalTime local);

/* The next local time at or after local at which the clinic is open. False where it is closed for a year. */
bool clinic_next_open(const Clinic *clinic, LocalTime local, LocalTime *next);

/* A phone number as E.164 ("+" and 8 to 15 digits): spaces, dots, dashes and brackets dropped, "00" read as "+", a national
 * form read with the country code (NULL: not read) and without what is dialled before it at home only, such as 0, 8 or 06.
 * Digits that begin with the country code and are more than a national number has are international without their "+". What may
 * be read in both ways, and a number of a length that its country has not, are none. The caller frees. NULL and *why (static
 * text; may be NULL) where it is none. */
char *phone_e164(const char *text, const char *country_code, const char **why);

#endif
