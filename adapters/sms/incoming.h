/* SPDX-License-Identifier: Apache-2.0 */
/* One message that came in, as its mapping finds it in a document. */
#ifndef OSIER_ADAPTERS_SMS_INCOMING_H
#define OSIER_ADAPTERS_SMS_INCOMING_H

#include <jansson.h>

#include "core/clinic/clinic.h"
#include "core/wire/message.h"

/* JSON Pointers to its fields; NULL where the mapping has none. */
typedef struct {
    const char *id;
    const char *from;
    const char *text;
    const char *at;
} IncomingMapping;

/* Reads one item. mended: bytes of the document were replaced. Never NULL; problem and raw are set
 * where a sender or a text is missing, or where the text lost bytes (what is left of it is in text
 * all the same, for a warning sign may stand there). */
Incoming *incoming_read(const IncomingMapping *mapping, json_t *item, bool mended);

/* A receipt from one item; NULL where the id or the status is not there. */
Receipt *receipt_read_item(const ReceiptMapping *mapping, json_t *item);

#endif
