/* SPDX-License-Identifier: Apache-2.0 */
/* Ids derived from what they stand for: the first 128 bits of SHA-256 over the parts, as 32 capital hex digits. */
#ifndef OSIER_CORE_LEDGER_ID_H
#define OSIER_CORE_LEDGER_ID_H

#include <glib.h>
#include <stdbool.h>
#include <stdint.h>

/* The id of a NULL-ended list of parts, each with its length before it (g_free). */
char *id_of(const char *first, ...) G_GNUC_NULL_TERMINATED;

char *id_session(const char *client, const char *date, int slot);
char *id_message(const char *purpose);
/* gateway_id NULL: the fingerprint of sender, text and time instead. */
char *id_reply(const char *gateway, const char *gateway_id, const char *from, const char *text,
               int64_t at_ms);
char *id_reply_fingerprint(const char *from, const char *text, int64_t at_ms);
char *id_alert(const char *client, const char *matter, const char *cause);

/* Has it the form of one of these? */
bool id_is_derived(const char *id);

/* A client's id of 8 characters without 0 O 1 I L U from the lower 40 of bits drawn at random. */
char *id_client(uint64_t bits);

/* The same by its place among all of them, 0 to ID_CLIENT_COUNT - 1: a greater rank gives the id that sorts later. */
#define ID_CLIENT_COUNT UINT64_C(656100000000) /* 30 to the 8th */
char *id_client_at(uint64_t rank);

/* A text's hash as 64 hex digits. */
char *id_text(const char *text);

#endif
