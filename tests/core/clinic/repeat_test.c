/* SPDX-License-Identifier: Apache-2.0 */
/* The policy, row by row, as docs/gateways.md prints it. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include "core/clinic/repeat.h"

static const AskMapping ASK = {0};
static const Gateway KEYED = {.kind = GATEWAY_HTTP_SMS, .takes_key = true};
static const Gateway ASKED = {.kind = GATEWAY_HTTP_SMS, .ask = (AskMapping *)&ASK};
static const Gateway BOTH = {
    .kind = GATEWAY_HTTP_SMS, .takes_key = true, .ask = (AskMapping *)&ASK};
static const Gateway PLAIN = {.kind = GATEWAY_HTTP_SMS};
static const Gateway MAIL = {.kind = GATEWAY_MAIL};
static const Gateway SPOOL = {.kind = GATEWAY_SPOOL};

static void each_gateway_is_of_a_class(void **state)
{
    (void)state;
    assert_int_equal(gateway_class(&KEYED), GATEWAY_KEYED);
    assert_int_equal(gateway_class(&ASKED), GATEWAY_ASKED);
    assert_int_equal(gateway_class(&BOTH), GATEWAY_KEYED);
    assert_int_equal(gateway_class(&PLAIN), GATEWAY_BLIND);
    assert_int_equal(gateway_class(&MAIL), GATEWAY_BLIND);
    assert_int_equal(gateway_class(&SPOOL), GATEWAY_BLIND);
    assert_int_equal(gateway_class(NULL), GATEWAY_BLIND);
}

static void row(const Gateway *gateway, Repeat alert, Repeat other)
{
    for (MessageKind kind = MESSAGE_WELCOME; kind <= MESSAGE_GOODBYE; kind++) {
        bool calls = kind == MESSAGE_ALERT || kind == MESSAGE_SAFETY;
        assert_int_equal(message_is_worth_twice(kind), calls);
        assert_int_equal(repeat_policy(gateway, kind), calls ? alert : other);
    }
}

static void every_row_of_the_policy(void **state)
{
    (void)state;
    row(&KEYED, REPEAT_THERE_FIRST, REPEAT_THERE);
    row(&ASKED, REPEAT_THERE_FIRST, REPEAT_THERE);
    row(&PLAIN, REPEAT_ANYWHERE, REPEAT_NOT);
    row(&MAIL, REPEAT_ANYWHERE, REPEAT_NOT);
    row(NULL, REPEAT_ANYWHERE, REPEAT_NOT);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(each_gateway_is_of_a_class),
        cmocka_unit_test(every_row_of_the_policy),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
