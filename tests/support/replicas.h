/* SPDX-License-Identifier: Apache-2.0 */
/* Real replicas of one clinic on the loopback. Their clocks stand still; "sync now" visits and answers when the visit is over. */
#ifndef OSIER_TESTS_SUPPORT_REPLICAS_H
#define OSIER_TESTS_SUPPORT_REPLICAS_H

#include "tests/support/site.h"

#define REPLICAS_MONDAY "2026-03-02T09:00:00Z"
#define REPLICAS_CLINIC "Withy Lane"

/* A replica's settings; port: where it listens for others, or 0. */
void replica_settings(Site *site, const char *name, int port, const char *clinic);

/* The same, listening at an address of any network, or NULL. */
void replica_settings_at(Site *site, const char *name, const char *listens, const char *clinic);

/* One more of them, not started. */
Site *replica_new(const char *name, int seed, int port);

/* The code that it shows (g_free); and: the one takes the code of the other, which listens on that port. */
char *replica_code(Site *site);
void replica_pair(Site *site, Site *with, int port);

/* sync now, and sync status's "replica" (g_free). */
void replica_visit(Site *site);
char *replica_id(Site *site);

/* A client who may be written to (g_free), and a plan for one. */
char *replica_client(Site *site, const char *name, int number);
void replica_plan(Site *site, const char *client);

/* How many a command lists. */
int replica_count(Site *site, const char *words);

/* What a command says on both, alike. */
void replicas_alike(Site *one, Site *other, const char *words);

/* The n-th change of a client, in fields of their own on either side; and: both know all that either did. */
void replicas_change(Site *one, Site *other, const char *client, int n);
void replicas_know(Site *one, Site *other, const char *client, int n);

/* Stops both, and looks whether their tables are what their ledgers give. They are freed. */
void replicas_end(Site *one, Site *other);

#endif
