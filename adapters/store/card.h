/* SPDX-License-Identifier: Apache-2.0 */
/* A client's card: the settings, contacts and bars of one client in one row, so that a reminder reads one row where it would read
 * twenty. It is a copy and nothing more: made when it is missed, torn up by the store itself as soon as one of its rows is put,
 * in the same transaction. Inside a job. */
#ifndef OSIER_ADAPTERS_STORE_CARD_H
#define OSIER_ADAPTERS_STORE_CARD_H

#include "adapters/store/find_people.h"

typedef void ContactEach(const char *channel, const char *address, bool consent, void *context);

typedef struct {
    SettingEach *setting; /* each in the order of the fields, as find_setting_values lends them */
    ContactEach *contact; /* then each contact; address may be NULL */
    void *context;
} CardReader;

/* Reads a client's card. The number of settings: 0 where the store knows nothing of the client. *barred: a bar is in force. */
int card_read(Tx *tx, const char *client, const CardReader *reader, bool *barred);

/* For the store: what a card says may have changed. */
void card_tear_up(Tx *tx, const char *client);

#endif
