/* SPDX-License-Identifier: Apache-2.0 */
/* Addresses as people and settings write them: mail addresses, and where a server listens. */
#ifndef OSIER_CORE_CLINIC_ADDRESS_H
#define OSIER_CORE_CLINIC_ADDRESS_H

#include <glib.h>
#include <stdbool.h>

/* Is the text one plain mail address (local@domain, no quoting, no comments; RFC 5321 lengths)? *why (static text, may be
 * NULL) says what is wrong. */
bool mail_address_valid(const char *text, const char **why);

/* The address in "Name <address>" or "address", or NULL where it is neither. The caller frees. */
char *mail_address_of(const char *mailbox, const char **why);

/* "127.0.0.1:8750", "[::1]:8750" or "localhost:8750": an IP address and a port from 1 to 65535. */
bool listen_valid(const char *text);

/* Is the host of a valid listen address this machine only? */
bool listen_loopback(const char *text);

#endif
