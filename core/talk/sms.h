/* SPDX-License-Identifier: Apache-2.0 */
/* How a text travels as SMS: alphabet, units and segments (3GPP TS 23.038 6.2.1, TS 23.040 9.2.3.24.1). */
#ifndef OSIER_CORE_TALK_SMS_H
#define OSIER_CORE_TALK_SMS_H

#include <glib.h>
#include <jansson.h>
#include <stdbool.h>

typedef struct {
    bool ucs2;
    int units;    /* septets, or UCS-2 code units */
    int segments; /* 0 for the empty text */
} SmsSize;

/* text: valid UTF-8. */
SmsSize sms_size(const char *text);

/* The text with look-alikes replaced by GSM-7 characters where the meaning stays (curly quotes, dashes, ellipsis, no-break
 * space, degree sign to " deg"); letters with accents are kept. Caller's to g_free. */
char *sms_plain(const char *text);

/* The first character of the text that GSM-7 lacks, as a pointer into it, or NULL. */
const char *sms_outside(const char *text);

/* The code of a character: 0 to 127 in the basic table, 0x1b00 + code for one of the extension (two septets), -1 where
 * GSM-7 lacks it. */
int sms_code(gunichar character);

/* {"alphabet":"gsm7"|"ucs2","units":160,"segments":1}, new reference. */
json_t *sms_size_json(SmsSize size);

#endif
