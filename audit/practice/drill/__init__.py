"""What all drills share: rounds made from a code, sheets of answers, a trainee at them, their pages."""
