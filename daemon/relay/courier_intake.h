/* SPDX-License-Identifier: Apache-2.0 */
/* What a program tells by itself: messages that came in, and receipts. Only so many are on their way to the disk at once, then
 * the program is not listened to until they are there. */
#ifndef OSIER_DAEMON_RELAY_COURIER_INTAKE_H
#define OSIER_DAEMON_RELAY_COURIER_INTAKE_H

#include "core/wire/message.h"
#include "daemon/desk/desk.h"

typedef struct CourierIntake CourierIntake;

/* Something that was told since the last courier_intake_begin has been dealt with. id: the program's, of a message that is on disk
 * now; NULL where there is nothing to say. */
typedef void CourierTaken(const char *id, void *context);

CourierIntake *courier_intake_new(Desk *desk, const char *gateway, CourierTaken *taken,
                                  void *context);

/* Nothing may be on its way to the disk. */
void courier_intake_free(CourierIntake *intake);

/* The program has been started (again): what it told in an earlier life is not answered any more. */
void courier_intake_begin(CourierIntake *intake);

/* Takes in what was told, over from the caller. Where this replica does not receive, a message is let pass: the program tells it
 * again to whoever does. */
void courier_intake_message(CourierIntake *intake, const char *id, Incoming *incoming);
void courier_intake_receipt(CourierIntake *intake, Receipt *receipt);

/* Is as much on its way as may be? */
bool courier_intake_is_full(const CourierIntake *intake);

#endif
