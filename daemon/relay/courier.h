/* SPDX-License-Identifier: Apache-2.0 */
/* A gateway that is a program of the clinic's: started, spoken with, and started again when it ends.
 *
 *     resting --wanted--> starting --hello--> ready --ends, hangs, lies--> resting (for a while) --> starting
 */
#ifndef OSIER_DAEMON_RELAY_COURIER_H
#define OSIER_DAEMON_RELAY_COURIER_H

#include <uv.h>

#include "core/wire/message.h"
#include "daemon/desk/desk.h"

typedef struct Courier Courier;

/* folder: the clinic's, in which it runs. turned is called when it is ready, and when it is no more; ill where it has not
 * got ready several times in a row, or says for minutes that it is not well. */
typedef struct {
    Desk *desk;
    uv_loop_t *loop; /* NULL: no program is started */
    const char *folder;
    void (*turned)(void *context);
    void (*ill)(const char *gateway, void *context);
    void *context;
} CourierShare;

Courier *courier_new(const CourierShare *share, const char *gateway);

/* No program may be running: see courier_busy. */
void courier_free(Courier *courier);

/* Runs it, or lets it end once what it was given has its fate. Called again and again; also after a reload. */
void courier_want(Courier *courier, bool runs);

/* Does it run, and is it well by its own words? */
bool courier_is_ready(const Courier *courier);

/* What became of a message; taken over. Never called from within courier_send. */
typedef void CourierDone(Settlement settlement, void *context);

/* Gives it a message, or asks whether it has one. False where it is not ready: nothing left. */
bool courier_send(Courier *courier, const Outgoing *message, bool ask, CourierDone *done,
                  void *context);

/* 1 while the program runs on its way to its end, so that osierd waits for it. */
int courier_busy(const Courier *courier);

/* {"state": "resting" | "starting" | "ready", "well": bool, "words": its own on its health or null, "problem": why it
 * ended last, its words where it is not well, or null} (new reference). */
json_t *courier_json(const Courier *courier);

#endif
