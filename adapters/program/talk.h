/* SPDX-License-Identifier: Apache-2.0 */
/* Translates between messages and the lines that a program gateway is spoken with: one JSON object a line, as
 * docs/program-gateway.md has it. No I/O. */
#ifndef OSIER_ADAPTERS_PROGRAM_TALK_H
#define OSIER_ADAPTERS_PROGRAM_TALK_H

#include "core/wire/message.h"

#define TALK_VERSION 1

typedef enum {
    TALK_HELLO,    /* version */
    TALK_FATE,     /* id and settlement: of a send or an ask */
    TALK_RECEIPT,  /* receipt */
    TALK_INCOMING, /* incoming, and id as it was given */
    TALK_HEALTH,   /* well, words */
    TALK_UNKNOWN,  /* of a type that this version does not know: let pass */
    TALK_BROKEN /* no JSON object with a type, or what it must hold is not there; words says why */
} TalkType;

typedef struct {
    TalkType type;
    int version;
    char *id;
    Settlement settlement; /* TALK_FATE; of an ask, waiting says that it has none */
    Receipt *receipt;
    Incoming *incoming;
    bool well;
    char *words;
} Talk;

/* Reads a line. Always gives a value, cleared with talk_clear. */
void talk_read(const char *line, size_t length, Talk *talk);
void talk_clear(Talk *talk);
G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC(Talk, talk_clear)

/* Lines without their ends (g_free). */
char *talk_hello(const char *gateway);
char *talk_send(const Outgoing *message);
char *talk_ask(const char *id);
char *talk_taken(const char *id);
char *talk_health(void);

#endif
