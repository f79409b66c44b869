/* SPDX-License-Identifier: Apache-2.0 */
/* Is a text JSON as the ledger writes it? Seen without making trees of it, for where there are a million. */
#ifndef OSIER_CORE_LEDGER_PLAIN_H
#define OSIER_CORE_LEDGER_PLAIN_H

#include <stdbool.h>
#include <stddef.h>

/* Valid UTF-8 without U+0000; soon told where it is ASCII, as most is. */
bool plain_is_text(const char *text, size_t length);

/* Is it an object in the form of body_text, valid UTF-8 given: members in the order of their names and none twice, no spaces, no
 * character U+0000, nothing too deep or too large for a number? Whatever passes can be read by jansson with
 * JSON_REJECT_DUPLICATES; of what jansson reads, what is written in another form does not pass. */
bool plain_is_object(const char *text);

#endif
