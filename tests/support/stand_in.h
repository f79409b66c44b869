/* SPDX-License-Identifier: Apache-2.0 */
/* A text gateway and a mail server for tests, on the loopback, in a thread of their own: they write
 * down what they are sent, answer as told, well or badly, and hold an inbox that can be polled. */
#ifndef OSIER_TESTS_SUPPORT_STAND_IN_H
#define OSIER_TESTS_SUPPORT_STAND_IN_H

#include <glib.h>
#include <jansson.h>

typedef struct StandIn StandIn;

/* Where a field stands in a request: "json:/a/b" (a JSON pointer), "form:x", "query:x" or
 * "header:x". */
typedef struct {
    const char *id;
    const char *to;
    const char *text;
    const char *accepted; /* the body of a good answer; its only %d becomes the send's number */
} StandInMap;

typedef enum {
    ANSWER_ACCEPT,
    ANSWER_REFUSE,  /* 422 and a reason */
    ANSWER_ERROR,   /* 500 */
    ANSWER_HTML,    /* 200, and the page of somebody in between */
    ANSWER_HALF,    /* 200, part of the body, and the end of the connection */
    ANSWER_NOTHING, /* reads on and says nothing */
    ANSWER_CLOSE,   /* closes after the request */
    ANSWER_DROP     /* the same, and has not taken it: see GET /ask */
} StandInAnswer;

/* One request to send, or one mail. Lives as long as the stand-in. */
typedef struct {
    char *id; /* NULL where the request had none; the Message-ID of a mail */
    char *to;
    char *text; /* the whole mail */
    StandInAnswer answered;
} StandInSend;

StandIn *stand_in_new(const StandInMap *map);
void stand_in_free(StandIn *stand_in);
int stand_in_port(const StandIn *stand_in);
int stand_in_smtp_port(const StandIn *stand_in);

/* How the next so many sends are answered (-1: all to come); after them sends are accepted. */
void stand_in_answer(StandIn *stand_in, StandInAnswer answer, int times);

/* Each answer waits so long, so that a moment can be hit. */
void stand_in_slow(StandIn *stand_in, int ms);

int stand_in_count(StandIn *stand_in);
const StandInSend *stand_in_send(StandIn *stand_in, int number);
int stand_in_mails(StandIn *stand_in);
const StandInSend *stand_in_mail(StandIn *stand_in, int number);

/* Sends to that number whose text holds the words (either may be NULL), however answered; *last
 * (may be NULL) is the last of them. */
int stand_in_sent(StandIn *stand_in, const char *to, const char *holds, const StandInSend **last);

/* Polls: GET /inbox?after=CURSOR gives at most ten items,
 * {"data":{"items":[{"uid":7,"who":{"msisdn":..},"content":..,"received":..}],"after":"7"}}.
 * at may be NULL; the item number is returned. */
int stand_in_put(StandIn *stand_in, const char *from, const char *text, const char *at);

/* Puts an item as it stands (taken over). */
int stand_in_put_item(StandIn *stand_in, json_t *item);

/* Receipts: GET /receipts?after=CURSOR gives at most two, {"receipts":[...],"after":"2"}, as they stand (taken over). */
void stand_in_put_receipt(StandIn *stand_in, json_t *receipt);

int stand_in_polls(StandIn *stand_in);

/* GET /ask?ref=ID says what the gateway has of a send: {"found":[{"uid":7}]} or {"found":[]}. So often it was asked. */
int stand_in_asked(StandIn *stand_in);

#endif
