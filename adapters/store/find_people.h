/* SPDX-License-Identifier: Apache-2.0 */
/* Finds what is known of people. Arrays hold Row and free them. Inside a job. */
#ifndef OSIER_ADAPTERS_STORE_FIND_PEOPLE_H
#define OSIER_ADAPTERS_STORE_FIND_PEOPLE_H

#include "adapters/store/store.h"

/* The settings of a subject. */
GPtrArray *find_settings(Tx *tx, const char *subject);

/* The same, lent one after the other and without their history: value is a JSON text or NULL. The number of them. */
typedef void SettingEach(const char *field, const char *value, void *context);
int find_setting_values(Tx *tx, const char *subject, SettingEach *each, void *context);

/* One setting's JSON text (g_free), or NULL. */
char *find_setting(Tx *tx, const char *subject, const char *field);

/* The id of the event that last set something of a subject: what an author who sets more has seen (g_free). NULL: none did. */
char *find_setting_base(Tx *tx, const char *subject);

/* The ids of all clients (texts), in the order of their ids. */
GPtrArray *find_clients(Tx *tx);

/* The subjects (texts) of which a setting has that JSON text. */
GPtrArray *find_with_setting(Tx *tx, const char *field, const char *value);

GPtrArray *find_contacts(Tx *tx, const char *client);

/* The clients with that address, a contact row for each: who shares a phone has one row each. */
GPtrArray *find_contacts_by_address(Tx *tx, const char *address);

/* Of these addresses (texts) those that several clients have, each lent once. Where the store is far, and only there. */
typedef void SharedEach(const char *address, void *context);
void find_shared_among(Tx *tx, const GPtrArray *addresses, SharedEach *each, void *context);

/* When somebody became a client: the stamp of the first event that tells of them, 0 where none does. */
typedef struct {
    int64_t wall_ms;
    int64_t logical;
} Became;
Became find_became_client(Tx *tx, const char *client);

/* Bars in force (not lifted). */
GPtrArray *find_bars(Tx *tx, const char *client);

/* Those of a kind that one reply set, whoever they bar, by client. Looks through the table. */
GPtrArray *find_bars_of_cause(Tx *tx, const char *kind, const char *cause);

/* The latest screen of a client, or NULL. */
Row *find_screen(Tx *tx, const char *client);

#endif
