/* SPDX-License-Identifier: Apache-2.0 */
#include "adapters/peer/identity.h"

#include <gnutls/abstract.h>
#include <gnutls/crypto.h>
#include <gnutls/gnutls.h>
#include <gnutls/x509.h>
#include <string.h>

/* The same on every replica: 2020-01-01. Nobody judges it; the key alone is. */
#define BEGINS 1577836800
#define SERIAL_BYTES 16

static gnutls_datum_t datum_of(const char *text)
{
    return (gnutls_datum_t){.data = (unsigned char *)text, .size = (unsigned)strlen(text)};
}

static char *text_of(gnutls_datum_t *datum)
{
    char *text = g_strndup((const char *)datum->data, datum->size);

    gnutls_memset(datum->data, 0, datum->size);
    gnutls_free(datum->data);
    datum->data = NULL;
    return text;
}

static int fill(gnutls_x509_crt_t certificate, gnutls_x509_privkey_t key)
{
    unsigned char serial[SERIAL_BYTES];
    int result = gnutls_rnd(GNUTLS_RND_NONCE, serial, sizeof serial);

    serial[0] &= 0x7f;
    if (result == 0) result = gnutls_x509_crt_set_version(certificate, 3);
    if (result == 0) result = gnutls_x509_crt_set_serial(certificate, serial, sizeof serial);
    if (result == 0)
        result = gnutls_x509_crt_set_dn_by_oid(certificate, GNUTLS_OID_X520_COMMON_NAME, 0, "peer",
                                               strlen("peer"));
    if (result == 0) result = gnutls_x509_crt_set_activation_time(certificate, BEGINS);
    if (result == 0)
        result = gnutls_x509_crt_set_expiration_time(certificate,
                                                     GNUTLS_X509_NO_WELL_DEFINED_EXPIRATION);
    if (result == 0) result = gnutls_x509_crt_set_key(certificate, key);
    if (result == 0)
        result = gnutls_x509_crt_sign2(certificate, certificate, key, GNUTLS_DIG_SHA256, 0);
    return result;
}

bool identity_make(char **certificate_text, char **key_text, char **why)
{
    gnutls_x509_privkey_t key = NULL;
    gnutls_x509_crt_t certificate = NULL;
    gnutls_datum_t key_pem = {0};
    gnutls_datum_t certificate_pem = {0};
    int result = gnutls_x509_privkey_init(&key);

    if (result == 0) result = gnutls_x509_crt_init(&certificate);
    if (result == 0)
        result = gnutls_x509_privkey_generate(key, GNUTLS_PK_ECDSA,
                                              GNUTLS_CURVE_TO_BITS(GNUTLS_ECC_CURVE_SECP256R1), 0);
    if (result == 0) result = fill(certificate, key);
    if (result == 0) result = gnutls_x509_privkey_export2(key, GNUTLS_X509_FMT_PEM, &key_pem);
    if (result == 0)
        result = gnutls_x509_crt_export2(certificate, GNUTLS_X509_FMT_PEM, &certificate_pem);
    if (result == 0) {
        *key_text = text_of(&key_pem);
        *certificate_text = text_of(&certificate_pem);
    } else {
        *why = g_strdup(gnutls_strerror(result));
        gnutls_free(key_pem.data);
    }
    gnutls_x509_crt_deinit(certificate);
    gnutls_x509_privkey_deinit(key);
    return result == 0;
}

/* NULL where the text is no certificate. */
static gnutls_x509_crt_t read_certificate(const char *text)
{
    gnutls_x509_crt_t certificate = NULL;
    gnutls_datum_t pem = datum_of(text);

    if (gnutls_x509_crt_init(&certificate) != 0) return NULL;
    if (gnutls_x509_crt_import(certificate, &pem, GNUTLS_X509_FMT_PEM) == 0) return certificate;
    gnutls_x509_crt_deinit(certificate);
    return NULL;
}

bool identity_fingerprint(const char *text, uint8_t fingerprint[FINGERPRINT_BYTES])
{
    gnutls_x509_crt_t certificate = text != NULL ? read_certificate(text) : NULL;
    size_t length = FINGERPRINT_BYTES;

    if (certificate == NULL) return false;
    bool read = gnutls_x509_crt_get_key_id(certificate, GNUTLS_KEYID_USE_SHA256, fingerprint,
                                           &length) == 0 &&
                length == FINGERPRINT_BYTES;
    gnutls_x509_crt_deinit(certificate);
    return read;
}

char *identity_pin(const char *certificate)
{
    uint8_t fingerprint[FINGERPRINT_BYTES];

    if (!identity_fingerprint(certificate, fingerprint)) return NULL;
    g_autofree char *base64 = g_base64_encode(fingerprint, sizeof fingerprint);
    return g_strconcat("sha256//", base64, NULL);
}

GBytes *identity_sign(const char *key_text, const uint8_t digest[32])
{
    gnutls_privkey_t key = NULL;
    gnutls_datum_t pem = datum_of(key_text);
    gnutls_datum_t hash = {.data = (unsigned char *)digest, .size = 32};
    gnutls_datum_t signature = {0};
    GBytes *bytes = NULL;

    if (gnutls_privkey_init(&key) != 0) return NULL;
    if (gnutls_privkey_import_x509_raw(key, &pem, GNUTLS_X509_FMT_PEM, NULL, 0) == 0 &&
        gnutls_privkey_sign_hash2(key, GNUTLS_SIGN_ECDSA_SHA256, 0, &hash, &signature) == 0)
        bytes = g_bytes_new(signature.data, signature.size);
    gnutls_free(signature.data);
    gnutls_privkey_deinit(key);
    return bytes;
}

bool identity_signed(const char *text, const uint8_t digest[32], GBytes *bytes)
{
    gnutls_x509_crt_t certificate = text != NULL ? read_certificate(text) : NULL;
    gnutls_pubkey_t key = NULL;
    gnutls_datum_t hash = {.data = (unsigned char *)digest, .size = 32};
    size_t length;
    const void *data = g_bytes_get_data(bytes, &length);
    gnutls_datum_t signature = {.data = (unsigned char *)data, .size = (unsigned)length};

    if (certificate == NULL) return false;
    bool holds =
        gnutls_pubkey_init(&key) == 0 && gnutls_pubkey_import_x509(key, certificate, 0) == 0 &&
        gnutls_pubkey_verify_hash2(key, GNUTLS_SIGN_ECDSA_SHA256, 0, &hash, &signature) >= 0;
    gnutls_pubkey_deinit(key);
    gnutls_x509_crt_deinit(certificate);
    return holds;
}
