/* SPDX-License-Identifier: Apache-2.0 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <string.h>

#include <cmocka.h>

#include "adapters/sms/sms_gateway.h"
#include "tests/support/gateways.h"

/* The vector that the Standard Webhooks libraries are tested with (from memory; its MAC was
 * computed anew). */
#define VECTOR_SECRET "whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw"
#define VECTOR_ID "msg_p5jXN8AQM9LWM0D4loKWxJek"
#define VECTOR_AT "1614265330"
#define VECTOR_BODY "{\"test\": 2432232314}"
#define VECTOR_MAC "v1,g0hM9SsE+OTPJTGt/tmIKtSyZlE3uFJELVlNIOLJ1OE="

static const char *header(const char *name, void *context)
{
    const char *const *pairs = context;

    for (; *pairs != NULL; pairs += 2)
        if (g_ascii_strcasecmp(pairs[0], name) == 0) return pairs[1];
    return NULL;
}

/* A signature with these secrets (a NULL-ended list of names). */
static Signature scheme(SignatureScheme kind, const char *name, const char *prefix, bool base64,
                        const char *const *secrets)
{
    Signature signature = {.scheme = kind,
                           .secrets = g_ptr_array_new_with_free_func(g_free),
                           .header = g_strdup(name),
                           .prefix = g_strdup(prefix),
                           .base64 = base64};

    for (; *secrets != NULL; secrets++)
        g_ptr_array_add(signature.secrets, g_strdup_printf("{secret:%s}", *secrets));
    return signature;
}

static void clear(Signature *signature)
{
    g_ptr_array_unref(signature->secrets);
    g_free(signature->header);
    g_free(signature->prefix);
}

static const char *const SECRETS[] = {"old",   "whsec_b2xkIG9sZCBvbGQ=",
                                      "new",   VECTOR_SECRET,
                                      "bare",  VECTOR_SECRET + 6,
                                      "empty", "",
                                      "bad",   "whsec_***",
                                      "jefe",  "Jefe",
                                      "token", "s3same",
                                      NULL};

static bool judged(Signature *signature, const char *const *headers, const char *body,
                   int64_t now_s)
{
    bool is = webhook_signed(signature, header, (void *)headers, body, strlen(body), now_s,
                             test_secret, (void *)SECRETS);

    clear(signature);
    return is;
}

/* Judges a call by the standard scheme, with the secret of one name. */
static bool standard(const char *secret, const char *id, const char *at, const char *mac,
                     const char *body, int64_t now_s)
{
    const char *const names[] = {secret, NULL};
    const char *const headers[] = {"Webhook-Id", id,  "webhook-timestamp", at, "webhook-signature",
                                   mac,          NULL};
    Signature signature = scheme(SIGNATURE_STANDARD, NULL, NULL, true, names);

    return judged(&signature, headers, body, now_s);
}

static void the_standard_vector_is_taken(void **state)
{
    const char *several = "v1a,xx v1,Ceo5qEr07ixe2NLpvHk3FH9bwy/WavXrAFQ/9tdO6mc= " VECTOR_MAC;

    (void)state;
    assert_true(standard("new", VECTOR_ID, VECTOR_AT, VECTOR_MAC, VECTOR_BODY, 1614265330));
    assert_true(standard("bare", VECTOR_ID, VECTOR_AT, VECTOR_MAC, VECTOR_BODY, 1614265330));
    assert_true(standard("new", VECTOR_ID, VECTOR_AT, several, VECTOR_BODY, 1614265330));
}

static void a_change_of_any_part_is_refused(void **state)
{
    (void)state;
    assert_false(standard("new", "msg_other", VECTOR_AT, VECTOR_MAC, VECTOR_BODY, 1614265330));
    assert_false(standard("new", VECTOR_ID, "1614265331", VECTOR_MAC, VECTOR_BODY, 1614265330));
    assert_false(standard("new", VECTOR_ID, VECTOR_AT, VECTOR_MAC, VECTOR_BODY " ", 1614265330));
    assert_false(standard("old", VECTOR_ID, VECTOR_AT, VECTOR_MAC, VECTOR_BODY, 1614265330));
    assert_false(standard("new", VECTOR_ID, VECTOR_AT, "v2," VECTOR_MAC, VECTOR_BODY, 1614265330));
    assert_false(standard("new", VECTOR_ID, VECTOR_AT, VECTOR_MAC "x", VECTOR_BODY, 1614265330));
    assert_false(standard("new", VECTOR_ID, VECTOR_AT, "v1,", VECTOR_BODY, 1614265330));
    assert_false(standard("new", VECTOR_ID, VECTOR_AT, "", VECTOR_BODY, 1614265330));
    assert_false(standard("new", "", VECTOR_AT, VECTOR_MAC, VECTOR_BODY, 1614265330));
    assert_false(standard("bad", VECTOR_ID, VECTOR_AT, VECTOR_MAC, VECTOR_BODY, 1614265330));
    assert_false(standard("empty", VECTOR_ID, VECTOR_AT, VECTOR_MAC, VECTOR_BODY, 1614265330));
}

static void an_old_call_cannot_be_played_again(void **state)
{
    (void)state;
    assert_true(standard("new", VECTOR_ID, VECTOR_AT, VECTOR_MAC, VECTOR_BODY, 1614265330 + 300));
    assert_false(standard("new", VECTOR_ID, VECTOR_AT, VECTOR_MAC, VECTOR_BODY, 1614265330 + 301));
    assert_true(standard("new", VECTOR_ID, VECTOR_AT, VECTOR_MAC, VECTOR_BODY, 1614265330 - 300));
    assert_false(standard("new", VECTOR_ID, VECTOR_AT, VECTOR_MAC, VECTOR_BODY, 1614265330 - 301));
    assert_false(standard("new", VECTOR_ID, "1e9", VECTOR_MAC, VECTOR_BODY, 1614265330));
    assert_false(standard("new", VECTOR_ID, "-1614265330", VECTOR_MAC, VECTOR_BODY, 1614265330));
}

static void two_secrets_serve_during_a_change_over(void **state)
{
    const char *const both[] = {"old", "absent", "new", NULL};
    const char *const headers[] = {"webhook-id", VECTOR_ID,           "webhook-timestamp",
                                   VECTOR_AT,    "webhook-signature", VECTOR_MAC,
                                   NULL};
    Signature signature = scheme(SIGNATURE_STANDARD, NULL, NULL, true, both);

    (void)state;
    assert_true(judged(&signature, headers, VECTOR_BODY, 1614265330));
}

/* RFC 4231 section 4.3, test case 2. */
#define JEFE_BODY "what do ya want for nothing?"
#define JEFE_HEX "5bdcc146bf60754e6a042426089575c75a003f089d2739839dec58b964ec3843"
#define JEFE_BASE64 "W9zBRr9gdU5qBCQmCJV1x1oAPwidJzmDnexYuWTsOEM="

static bool jefe(const char *value, const char *prefix, bool base64, const char *body)
{
    const char *const names[] = {"jefe", NULL};
    const char *const headers[] = {"X-Signature", value, NULL};
    Signature signature = scheme(SIGNATURE_HMAC, "X-Signature", prefix, base64, names);

    return judged(&signature, headers, body, 0);
}

static void an_hmac_is_read_as_hex_or_base64_with_its_prefix(void **state)
{
    (void)state;
    assert_true(jefe("sha256=" JEFE_HEX, "sha256=", false, JEFE_BODY));
    assert_true(jefe(JEFE_HEX, "", false, JEFE_BODY));
    assert_true(jefe(JEFE_BASE64, "", true, JEFE_BODY));
    assert_false(jefe(JEFE_HEX, "sha256=", false, JEFE_BODY));
    assert_false(jefe(JEFE_HEX "00", "", false, JEFE_BODY));
    assert_false(jefe("5bdc", "", false, JEFE_BODY));
    assert_false(jefe("", "", false, JEFE_BODY));
    assert_false(jefe(JEFE_HEX, "", true, JEFE_BODY));
    assert_false(jefe(JEFE_HEX, "", false, JEFE_BODY "?"));
}

static bool token(const char *value, const char *secret)
{
    const char *const names[] = {secret, NULL};
    const char *const headers[] = {"X-Token", value, NULL};
    Signature signature = scheme(SIGNATURE_TOKEN, "X-Token", NULL, false, names);

    return judged(&signature, headers, "", 0);
}

static void a_token_must_be_the_secret_itself(void **state)
{
    (void)state;
    assert_true(token("s3same", "token"));
    assert_false(token("s3sam", "token"));
    assert_false(token("s3same ", "token"));
    assert_false(token("", "token"));
    assert_false(token("", "empty"));
    assert_false(token("", "absent"));
}

static void no_signature_at_all_must_be_written(void **state)
{
    const char *const headers[] = {NULL};
    const char *const none[] = {NULL};
    Signature open = scheme(SIGNATURE_NONE, NULL, NULL, false, none);
    Signature secretless = scheme(SIGNATURE_TOKEN, "X-Token", NULL, false, none);

    (void)state;
    assert_true(judged(&open, headers, "x", 0));
    assert_false(judged(&secretless, headers, "x", 0));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_standard_vector_is_taken),
        cmocka_unit_test(a_change_of_any_part_is_refused),
        cmocka_unit_test(an_old_call_cannot_be_played_again),
        cmocka_unit_test(two_secrets_serve_during_a_change_over),
        cmocka_unit_test(an_hmac_is_read_as_hex_or_base64_with_its_prefix),
        cmocka_unit_test(a_token_must_be_the_secret_itself),
        cmocka_unit_test(no_signature_at_all_must_be_written),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
