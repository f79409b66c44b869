/* SPDX-License-Identifier: Apache-2.0 */
/* Certificates and keys made on the spot with GnuTLS, for servers in tests. */
#ifndef OSIER_TESTS_SUPPORT_CERTIFICATES_H
#define OSIER_TESTS_SUPPORT_CERTIFICATES_H

#include <glib.h>
#include <stdint.h>

typedef struct Issuer Issuer; /* signs certificates: what a client may trust */

typedef struct {
    char *certificate; /* PEM */
    char *key;
} Identity;

Issuer *issuer_new(void);
void issuer_free(Issuer *issuer);
const char *issuer_pem(const Issuer *issuer);

/* For a host's name, good from one instant to another (seconds since 1970), signed by the issuer; by itself where that is
 * NULL. */
Identity host_identity_make(const Issuer *issuer, const char *host, int64_t from_s, int64_t to_s);
void identity_clear(Identity *identity);

#endif
