/* SPDX-License-Identifier: Apache-2.0 */
/* A message on its way out, what became of it, and a message that came in. */
#ifndef OSIER_CORE_WIRE_MESSAGE_H
#define OSIER_CORE_WIRE_MESSAGE_H

#include <glib.h>
#include <stdbool.h>
#include <stdint.h>

typedef enum {
    MESSAGE_WELCOME,
    MESSAGE_REMINDER,
    MESSAGE_NUDGE,
    MESSAGE_ANSWER,
    MESSAGE_QUESTION,
    MESSAGE_SAFETY,
    MESSAGE_STOPPED,
    MESSAGE_HELP,
    MESSAGE_CHECKIN,
    MESSAGE_ALERT,
    MESSAGE_UPDATE,
    MESSAGE_DIGEST,
    MESSAGE_GOODBYE
} MessageKind;

typedef enum { CHANNEL_SMS, CHANNEL_EMAIL, CHANNEL_PHONE } Channel;

/* waiting -> writing -> accepted -> delivered
 *    |          |           '-----> failed (a receipt says so)
 *    |          |-> waiting (tried again), refused, failed (given up), unsure
 *    |-> lapsed (its end passed, or the last gate forbids it)
 *    '-> unsure (the same, and an earlier try may have got through) */
typedef enum {
    FATE_WAITING,
    FATE_WRITING,
    FATE_ACCEPTED,
    FATE_DELIVERED,
    FATE_REFUSED,
    FATE_FAILED,
    FATE_LAPSED,
    FATE_UNSURE
} Fate;

/* Names of the outward contract; *_from_name is false for an unknown name. */
const char *message_kind_name(MessageKind kind);
bool message_kind_from_name(const char *name, MessageKind *kind);
const char *channel_name(Channel channel);
bool channel_from_name(const char *name, Channel *channel);
const char *fate_name(Fate fate);
bool fate_from_name(const char *name, Fate *fate);

/* May a message go from one fate to the other? */
bool fate_may_become(Fate from, Fate to);

/* What a translator needs to send one message. Strings belong to the caller. */
typedef struct {
    const char *id;          /* 32 hex digits, the same on every try */
    const char *to;          /* E.164 number or mail address */
    const char *text;        /* UTF-8 */
    const char *subject;     /* mail only, or NULL */
    const char *html;        /* mail only, or NULL */
    const char *calendar;    /* mail only: a calendar file that goes with it (RFC 5545), or NULL */
    const char *in_reply_to; /* mail only: Message-ID, or NULL */
    const char
        *unsubscribe; /* mail only: an https link at which one click ends it (RFC 8058), or NULL */
    int64_t at_ms;    /* when it was made: the mail's Date */
} Outgoing;

/* What a gateway's answer means for the message. */
typedef struct {
    Fate fate;        /* FATE_ACCEPTED, FATE_REFUSED, FATE_WAITING (try again) or FATE_UNSURE */
    char *gateway_id; /* the gateway's id for it, or NULL */
    char *reason;     /* one line, or NULL */
    int64_t retry_after_s; /* -1 where the gateway named none */
} Settlement;

void settlement_clear(Settlement *settlement);

/* A message that came in through a gateway, as far as it could be read. */
typedef struct {
    char *id;      /* the gateway's id, or NULL */
    char *from;    /* as the gateway gave it, or NULL */
    char *text;    /* valid UTF-8, NULs replaced; NULL where unreadable */
    int64_t at_ms; /* by the gateway, or -1 */
    /* where it could not be read: the item as it came, valid UTF-8, at most 64 kB; else NULL */
    char *raw;
    char *problem;  /* why it could not be read, or NULL */
    char *ref;      /* mail: the id of the message of ours that it answers, or NULL */
    char *subject;  /* mail: its subject, or NULL */
    bool automatic; /* mail: no person wrote it (RFC 3834) */
} Incoming;

void incoming_free(Incoming *incoming);

/* A receipt: what became of a message by the gateway's word. */
typedef struct {
    char *gateway_id; /* the gateway's id of the message, or NULL */
    char *message;    /* its own id, where the receipt names that, or NULL */
    Fate fate;    /* FATE_DELIVERED, FATE_FAILED, or FATE_ACCEPTED for a status of neither list */
    char *reason; /* one line, or NULL */
} Receipt;

void receipt_free(Receipt *receipt);

#endif
