/* SPDX-License-Identifier: Apache-2.0 */
/* The sheet that a client takes home: the stage's movements in order, how strong, when to stop and whom
 * to ring, the letters of the weekly question, how to answer. Read on the floor, by somebody of eighty. */
#ifndef OSIER_CORE_PAPER_HANDOUT_H
#define OSIER_CORE_PAPER_HANDOUT_H

#include "core/clinic/clinic.h"
#include "core/paper/sheet.h"
#include "core/practice/dose.h"
#include "core/wire/message.h"

#define HANDOUT_PT 16.0
#define HANDOUT_LARGE_PT 18.0

typedef struct {
    const Movement *movement;
    const Setup *setup; /* NULL: it needs none */
    bool barred;        /* it needs one, and the screen allows none */
    Picture *picture;   /* taken over; or NULL */
} HandoutMovement;

typedef struct {
    const Clinic *clinic;
    const Programme *programme;
    const Stage *stage;
    const char *name;     /* of the client */
    Day day;              /* of printing */
    const char *side;     /* "left", "right", "both" */
    const int32_t *times; /* seconds of the local day */
    int n_times;
    int days_a_week;
    Channel channel;
    const char *number; /* that the messages come from, or NULL where nobody knows */
    char sharer;        /* the client's letter on a phone that others use as well, or 0 */
    const DoseChange *change;
    bool one_dose_lower;
    HandoutMovement *movements;
    int n_movements;
    bool letter;
    bool large;
} HandoutAsk;

/* The sheet; takes the pictures over. */
Paper *handout_sheet(const Pack *pack, const HandoutAsk *ask);

/* The movements alone as plain text, for a mail; takes the pictures over, of which the captions are told. And the programme's
 * cautions in one paragraph. Both in the pack's language (g_free). */
char *handout_movements_text(const Pack *pack, const HandoutAsk *ask);
char *handout_cautions_text(const Pack *pack, const Programme *programme);

#endif
