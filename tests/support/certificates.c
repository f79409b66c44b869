/* SPDX-License-Identifier: Apache-2.0 */
#include "tests/support/certificates.h"

#include <gnutls/gnutls.h>
#include <gnutls/x509.h>
#include <string.h>

enum { YEAR_S = 365 * 24 * 3600 };

struct Issuer {
    gnutls_x509_crt_t certificate;
    gnutls_x509_privkey_t key;
    char *pem;
};

static void must(int rc)
{
    if (rc < 0) g_error("gnutls: %s", gnutls_strerror(rc));
}

static gnutls_x509_privkey_t make_key(void)
{
    gnutls_x509_privkey_t key;

    must(gnutls_x509_privkey_init(&key));
    must(gnutls_x509_privkey_generate(key, GNUTLS_PK_ECDSA,
                                      GNUTLS_CURVE_TO_BITS(GNUTLS_ECC_CURVE_SECP256R1), 0));
    return key;
}

static gnutls_x509_crt_t make_certificate(gnutls_x509_privkey_t key, int64_t from_s, int64_t to_s)
{
    static guint8 serial = 0;
    gnutls_x509_crt_t certificate;

    must(gnutls_x509_crt_init(&certificate));
    must(gnutls_x509_crt_set_version(certificate, 3));
    serial++;
    must(gnutls_x509_crt_set_serial(certificate, &serial, sizeof serial));
    must(gnutls_x509_crt_set_activation_time(certificate, (time_t)from_s));
    must(gnutls_x509_crt_set_expiration_time(certificate, (time_t)to_s));
    must(gnutls_x509_crt_set_key(certificate, key));
    return certificate;
}

static void name(gnutls_x509_crt_t certificate, const char *text)
{
    must(gnutls_x509_crt_set_dn_by_oid(certificate, GNUTLS_OID_X520_COMMON_NAME, 0, text,
                                       (unsigned)strlen(text)));
}

static char *copy_of(gnutls_datum_t *pem)
{
    char *text = g_strndup((char *)pem->data, pem->size);

    gnutls_free(pem->data);
    return text;
}

static char *pem_of(gnutls_x509_crt_t certificate)
{
    gnutls_datum_t pem;

    must(gnutls_x509_crt_export2(certificate, GNUTLS_X509_FMT_PEM, &pem));
    return copy_of(&pem);
}

Issuer *issuer_new(void)
{
    Issuer *issuer = g_new0(Issuer, 1);
    int64_t now_s = g_get_real_time() / G_USEC_PER_SEC;

    issuer->key = make_key();
    issuer->certificate = make_certificate(issuer->key, now_s - YEAR_S, now_s + YEAR_S);
    name(issuer->certificate, "An issuer for tests");
    must(gnutls_x509_crt_set_basic_constraints(issuer->certificate, 1, 0));
    must(gnutls_x509_crt_set_key_usage(issuer->certificate, GNUTLS_KEY_KEY_CERT_SIGN));
    must(gnutls_x509_crt_sign2(issuer->certificate, issuer->certificate, issuer->key,
                               GNUTLS_DIG_SHA256, 0));
    issuer->pem = pem_of(issuer->certificate);
    return issuer;
}

void issuer_free(Issuer *issuer)
{
    gnutls_x509_crt_deinit(issuer->certificate);
    gnutls_x509_privkey_deinit(issuer->key);
    g_free(issuer->pem);
    g_free(issuer);
}

const char *issuer_pem(const Issuer *issuer)
{
    return issuer->pem;
}

Identity host_identity_make(const Issuer *issuer, const char *host, int64_t from_s, int64_t to_s)
{
    gnutls_x509_privkey_t key = make_key();
    gnutls_x509_crt_t certificate = make_certificate(key, from_s, to_s);
    gnutls_datum_t pem;

    name(certificate, host);
    must(gnutls_x509_crt_set_subject_alt_name(certificate, GNUTLS_SAN_DNSNAME, host,
                                              (unsigned)strlen(host), GNUTLS_FSAN_SET));
    must(gnutls_x509_crt_set_key_purpose_oid(certificate, GNUTLS_KP_TLS_WWW_SERVER, 0));
    must(gnutls_x509_crt_sign2(certificate, issuer != NULL ? issuer->certificate : certificate,
                               issuer != NULL ? issuer->key : key, GNUTLS_DIG_SHA256, 0));
    must(gnutls_x509_privkey_export2(key, GNUTLS_X509_FMT_PEM, &pem));
    Identity identity = {.certificate = pem_of(certificate), .key = copy_of(&pem)};
    gnutls_x509_crt_deinit(certificate);
    gnutls_x509_privkey_deinit(key);
    return identity;
}

void identity_clear(Identity *identity)
{
    g_free(identity->certificate);
    g_free(identity->key);
}
